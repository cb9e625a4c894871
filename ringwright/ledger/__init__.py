"""The append-only record: events in one order per site, chained by hash; projections."""

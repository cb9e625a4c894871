"""Wall maps of cases: plans, sets of readings on record, the Walls pages."""

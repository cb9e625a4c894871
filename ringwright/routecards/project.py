"""Route revisions into their table."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Table

from ringwright.core.facts import Entry
from ringwright.db import table_of
from ringwright.ledger.projecting import Plain, Row, Rows
from ringwright.routecards.tables import RouteRevision


class RouteProjector(Plain):
    """Every revision of a product."""

    subject_kind = "product"
    tables: tuple[Table, ...] = (table_of(RouteRevision),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a revision."""
        del lens
        rows: list[Row] = []
        for entry in entries:
            card = entry.data["card"]
            rows.append(
                (
                    site_id,
                    subject,
                    entry.data["revision"],
                    entry.seq,
                    entry.at_us,
                    card["name"],
                    card["family"],
                    card.get("target_per_week"),
                    json.dumps(card, sort_keys=True, ensure_ascii=False),
                )
            )
        return {"route_revision": rows}

"""Published weeks into their table."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Table

from ringwright.core.facts import Entry
from ringwright.db import table_of
from ringwright.flow.tables import PublishedWeek
from ringwright.ledger.projecting import Plain, Row, Rows


class PublishedProjector(Plain):
    """Every edition of a published week."""

    subject_kind = "week"
    tables: tuple[Table, ...] = (table_of(PublishedWeek),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row an edition."""
        del lens
        rows: list[Row] = []
        product, week = subject.rsplit(" ", 1)
        for entry in entries:
            data = entry.data
            rows.append(
                (
                    site_id,
                    subject,
                    entry.seq,
                    product,
                    week,
                    entry.at_us,
                    entry.known_us,
                    entry.actor,
                    data["head_seq"],
                    data["head_hash"],
                    data["numbers"]["output"],
                    data.get("reason"),
                    json.dumps(data["numbers"], sort_keys=True, ensure_ascii=False),
                )
            )
        return {"published_week": rows}

"""The facts of wall plans and walls into the rows of `tables.py`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Table

from ringwright.core.facts import Entry
from ringwright.db import table_of
from ringwright.ledger.projecting import Plain, Row, Rows
from ringwright.wallmaps.rules import fold
from ringwright.wallmaps.tables import WallPlanRevision, WallReadSet


class PlanProjector(Plain):
    """Every revision of a wall plan."""

    subject_kind = "wall-plan"
    tables: tuple[Table, ...] = (table_of(WallPlanRevision),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a revision."""
        del lens
        rows: list[Row] = []
        for entry in entries:
            plan = entry.data["plan"]
            head = (plan["plan"]["revision"], plan["plan"]["effective_from"])
            who = (entry.known_us, entry.actor, entry.data.get("reason") or "")
            text = json.dumps(plan, ensure_ascii=False)
            rows.append((site_id, subject, entry.seq, *head, *who, text))
        return {"wall_plan": rows}


class WallProjector(Plain):
    """Every set of readings of a case, those withdrawn too."""

    subject_kind = "wall"
    tables: tuple[Table, ...] = (table_of(WallReadSet),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a set."""
        del lens
        names = WallReadSet.__table__.columns.keys()[1:]
        found = fold(subject, entries)
        rows: list[Row] = [(site_id, *(getattr(one, name) for name in names)) for one in found]
        return {"wall_set": rows}


PROJECTORS = (PlanProjector(), WallProjector())

"""The facts of shifts into the rows of `tables.py`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Table

from ringwright.core.facts import Entry
from ringwright.core.instants import parse_instant
from ringwright.db import FOREVER_US, table_of
from ringwright.handover.facts import KIND
from ringwright.handover.tables import HandoverNote
from ringwright.ledger.projecting import Plain, Row, Rows


class NotesProjector(Plain):
    """Every note of a shift, with who took it over first."""

    subject_kind = KIND
    tables: tuple[Table, ...] = (table_of(HandoverNote),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a note."""
        del lens
        taken: dict[int, Entry] = {}
        for entry in entries:
            if entry.kind == "handover-taken":
                for number in entry.data["notes"]:
                    taken.setdefault(number, entry)
        begins_us = parse_instant(subject)
        rows: list[Row] = []
        for entry in entries:
            if entry.kind != "handover-noted":
                continue
            data, by = entry.data, taken.get(entry.seq)
            when = (by.at_us, by.known_us, by.actor) if by else (FOREVER_US, FOREVER_US, "")
            told = (entry.at_us, entry.known_us, entry.actor, data["text"])
            about = (data.get("for_role"), data.get("serial"))
            rows.append((site_id, subject, entry.seq, begins_us, *told, *about, *when))
        return {"handover_note": rows}


PROJECTORS = (NotesProjector(),)

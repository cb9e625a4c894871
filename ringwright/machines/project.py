"""The facts of machining, fixtures, spindles and boards into the rows of `tables.py`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Table

from ringwright.core.facts import Entry
from ringwright.db import table_of
from ringwright.ledger.projecting import Plain, Row, Rows
from ringwright.machines.tables import BoardPlan, FixtureCount, MachiningRevision, SpindleNote


def _head(site_id: int, subject: str, entry: Entry) -> tuple[Any, ...]:
    return site_id, subject, entry.seq, entry.at_us, entry.known_us, entry.actor


class MachiningProjector(Plain):
    """Every machining plan of a product."""

    subject_kind = "machining"
    tables: tuple[Table, ...] = (table_of(MachiningRevision),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a plan."""
        del lens
        rows: list[Row] = [
            (*_head(site_id, subject, entry), _text(entry.data["needs"])) for entry in entries
        ]
        return {"machining_revision": rows}


class FixtureProjector(Plain):
    """Every count of a kind of fixture."""

    subject_kind = "fixture"
    tables: tuple[Table, ...] = (table_of(FixtureCount),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a count."""
        del lens
        rows: list[Row] = [
            (*_head(site_id, subject, one), one.data["count"], one.data.get("name", ""))
            for one in entries
        ]
        return {"fixture_count": rows}


class SpindleProjector(Plain):
    """Every line of a spindle's log."""

    subject_kind = "spindle"
    tables: tuple[Table, ...] = (table_of(SpindleNote),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a line."""
        del lens
        station = subject.rpartition(" ")[0]
        rows: list[Row] = []
        for entry in entries:
            told = entry.data
            about = (told.get("serial", ""), told.get("step", 0))
            why = (told.get("reason", ""), told.get("text", ""))
            rows.append((*_head(site_id, subject, entry), station, entry.kind, *about, *why))
        return {"spindle_note": rows}


class BoardProjector(Plain):
    """A board as it stood after each entry."""

    subject_kind = "board"
    tables: tuple[Table, ...] = (table_of(BoardPlan),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row an entry."""
        del lens
        rows: list[Row] = []
        placed: dict[tuple[str, int], dict[str, Any]] = {}
        for entry in entries:
            if entry.kind == "plan-kept":
                placed = {(one["serial"], one["step"]): one for one in entry.data["placements"]}
            else:
                one = entry.data["placement"]
                placed[one["serial"], one["step"]] = one
            why = entry.data.get("reason", "")
            stands = _text(list(placed.values()))
            rows.append((*_head(site_id, subject, entry), entry.kind, why, stands))
        return {"board_plan": rows}


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


PROJECTORS = (MachiningProjector(), FixtureProjector(), SpindleProjector(), BoardProjector())

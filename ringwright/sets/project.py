"""A set's facts into the rows of `tables.py`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from sqlalchemy import Table

from ringwright.core.facts import Entry
from ringwright.db import table_of
from ringwright.ledger.projecting import Plain, Row, Rows
from ringwright.sets.rules import BladeSet, fold
from ringwright.sets.tables import BladeSetNow, Reservation, RotorRevision

COLUMNS = frozenset({"code", "product", "state", "first_seq", "last_seq"})
"""Fields of a set with a column of their own."""


class SetProjector(Plain):
    """One row a set, and one a blade kept for it."""

    subject_kind = "set"
    tables: tuple[Table, ...] = (table_of(BladeSetNow), table_of(Reservation))

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """The set as it stands."""
        del lens
        found = fold(subject, entries)
        kept: list[Row] = []
        if found.holding:
            kept = [
                (site_id, subject, serial, slot) for slot, serial in enumerate(found.slots, 1)
            ]
        return {"blade_set": [_row(site_id, found)], "reservation": kept}


def _row(site_id: int, found: BladeSet) -> Row:
    rest = {name: value for name, value in asdict(found).items() if name not in COLUMNS}
    return (
        site_id,
        found.code,
        found.product,
        found.state,
        found.times[found.state],
        found.first_seq,
        found.last_seq,
        json.dumps(rest, sort_keys=True, ensure_ascii=False),
    )


def set_of(row: Any) -> BladeSet:
    """The set of a stored row."""
    rest = json.loads(row.data)
    fitted = {int(slot): serial for slot, serial in rest.pop("fitted").items()}
    return BladeSet(
        code=row.code,
        product=row.product,
        state=row.state,
        first_seq=row.first_seq,
        last_seq=row.last_seq,
        fitted=fitted,
        weights=tuple(rest.pop("weights")),
        **rest,
    )


class RotorProjector(Plain):
    """Every entry about a rotor: each holds from its recording on."""

    subject_kind = "rotor"
    tables: tuple[Table, ...] = (table_of(RotorRevision),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row an entry."""
        del lens
        rows: list[Row] = [
            (site_id, subject, entry.seq, entry.known_us, entry.actor, _text(entry))
            for entry in entries
        ]
        return {"rotor_revision": rows}


def _text(entry: Entry) -> str:
    return json.dumps(entry.data["rotor"], sort_keys=True, ensure_ascii=False)


PROJECTORS = (SetProjector(), RotorProjector())

"""The facts of alloys, lots and swarf containers into the rows of `tables.py`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Table

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.db import FOREVER_US, table_of
from ringwright.ledger.projecting import Plain, Row, Rows
from ringwright.material.facts import AlloySet, ContainerFact, LotSet, MaterialAdded
from ringwright.material.rules import fold
from ringwright.material.tables import (
    AddedMaterial,
    AlloyRevision,
    ContainerEntry,
    ContainerNow,
    LotRevision,
)


class AlloyProjector(Plain):
    """Every word about an alloy."""

    subject_kind = AlloySet.subject_kind
    tables: tuple[Table, ...] = (table_of(AlloyRevision),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a word."""
        del lens
        rows: list[Row] = [
            (site_id, subject, one.seq, one.known_us, one.actor, _text(one.data["alloy"]))
            for one in entries
        ]
        return {"alloy_revision": rows}


class LotProjector(Plain):
    """Every word about a lot."""

    subject_kind = LotSet.subject_kind
    tables: tuple[Table, ...] = (table_of(LotRevision),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a word."""
        del lens
        rows: list[Row] = []
        for one in entries:
            told = (one.actor, one.data.get("reason") or "", _text(one.data["lot"]))
            rows.append((site_id, subject, one.seq, one.at_us, one.known_us, *told))
        return {"lot_revision": rows}


class ContainerProjector(Plain):
    """A container as it stands, and everything that happened to it."""

    subject_kind = ContainerFact.subject_kind
    tables: tuple[Table, ...] = (table_of(ContainerNow), table_of(ContainerEntry))

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row for the container where it counts at all, one for each entry."""
        del lens
        events: list[Row] = [
            (
                site_id, subject, one.seq, one.kind, one.at_us, one.known_us, one.actor,
                one.station, one.corrects, one.data.get("serial"), _text(dict(one.data)),
            )
            for one in entries
        ]  # fmt: skip
        return {"swarf_container": _now(site_id, subject, entries), "swarf_entry": events}


def _now(site_id: int, subject: str, entries: Sequence[Entry]) -> list[Row]:
    try:
        found = fold(subject, entries)
    except Refused:  # its opening was taken back: there is no such container
        return []
    told = (found.alloy, found.swarf, found.state, bool(found.mixed), found.lot)
    when = (found.opened_us, found.last_us, found.last_seq)
    return [(site_id, subject, entries[0].seq, *told, *when)]


class MassProjector(Plain):
    """What was put on a part."""

    subject_kind = MaterialAdded.subject_kind
    tables: tuple[Table, ...] = (table_of(AddedMaterial),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row each, with the moment it was known not to count."""
        del lens
        gone = {one.corrects: one.known_us for one in entries if one.corrects is not None}
        rows: list[Row] = []
        for one in entries:
            if one.corrects is None:
                when = (one.at_us, one.known_us, gone.get(one.seq, FOREVER_US))
                told = (one.actor, one.data["step"], _text(dict(one.data)))
                rows.append((site_id, subject, one.seq, *when, *told))
        return {"material_added": rows}


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


PROJECTORS = (AlloyProjector(), LotProjector(), ContainerProjector(), MassProjector())

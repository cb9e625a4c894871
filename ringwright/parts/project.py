"""A part's facts into the rows of `tables.py`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Table

from ringwright.core.facts import Entry
from ringwright.db import table_of
from ringwright.ledger.projecting import Row, Rows
from ringwright.parts.knowledge import believe
from ringwright.parts.rows import TRACKED, values_of
from ringwright.parts.state import Part
from ringwright.parts.tables import (
    Condition,
    Hold,
    Life,
    Link,
    Nonconformity,
    PartMark,
    PartNow,
    Reading,
    Tracked,
    Visit,
)
from ringwright.routecards.card import FindCard
from ringwright.routecards.queries import card_finder

_TRACKED: tuple[type[Tracked], ...] = (
    Visit,
    Reading,
    Hold,
    Nonconformity,
    Life,
    Link,
    Condition,
)
assert len(_TRACKED) == len(TRACKED)


class PartProjector:
    """Folds a part into its rows; a part's route card is found by product and revision."""

    subject_kind = "part"
    tables: tuple[Table, ...] = (
        table_of(PartNow),
        table_of(PartMark),
        *map(table_of, _TRACKED),
    )

    def lens(self, connection: Connection, site_id: int) -> FindCard:
        """The route cards of the site, each read once."""
        return card_finder(connection, site_id)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """All rows of the part, as believed at any time."""
        part, believed = believe(subject, entries, lens)
        rows: Rows = {
            table.__tablename__: [(site_id, subject, *values_of(row)) for row in found]
            for table, found in zip(_TRACKED, believed, strict=True)
        }
        if part.card is not None:
            rows["part_now"] = [_now(site_id, part)]
            rows["part_mark"] = _marks(site_id, part, entries)
        return rows


def _now(site_id: int, part: Part) -> Row:
    visit = part.visits[-1]
    since_us = visit.begin_us if part.open_visit else visit.end_us
    hold = part.open_hold
    return (
        site_id,
        part.serial,
        part.route.product,
        part.route.revision,
        part.place,
        part.step,
        since_us,
        part.paused_since_us is not None,
        hold.reason if hold else None,
        len(part.open_nonconformities),
        part.whereabouts,
        part.mark,
        part.kept,
        part.lot,
        part.priority,
        part.sought,
        part.reservation,
        part.last_seq,
    )


def _marks(site_id: int, part: Part, entries: Sequence[Entry]) -> list[Row]:
    if part.mark is None:
        return []
    borne = {entry.data["mark"] for entry in entries if entry.kind == "remark"}
    return [
        (site_id, part.serial, mark, mark != part.mark)
        for mark in sorted(borne | {part.serial})
    ]

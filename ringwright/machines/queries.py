"""Machining plans, fixtures, spindle logs and boards, as they were known."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, select

from ringwright.db import FOREVER_US
from ringwright.machines.card import BOARD, Fixture, MachiningPlan, Placed
from ringwright.machines.rules import Noted
from ringwright.machines.tables import BoardPlan, FixtureCount, MachiningRevision, SpindleNote
from ringwright.machines.toml import needs_from


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A board as it stands after its last entry."""

    number: int = 0
    """The entry; 0: nothing was kept yet."""
    at_us: int = 0
    actor: str = ""
    reason: str = ""
    placements: tuple[Placed, ...] = ()


def _newest(
    connection: Connection, site_id: int, table: type[Any], before_us: int
) -> Sequence[Any]:
    """The newest row of each code that was known by then, by code."""
    known = (table.site_id == site_id, table.known_us < before_us)
    last = select(table.code, func.max(table.number).label("number")).where(*known)
    newest = last.group_by(table.code).subquery()
    query = (
        select(table)
        .join(newest, (newest.c.code == table.code) & (newest.c.number == table.number))
        .where(table.site_id == site_id)
    )
    return connection.execute(query.order_by(table.code)).all()


def read_machining(
    connection: Connection, site_id: int, before_us: int = FOREVER_US
) -> dict[str, MachiningPlan]:
    """Product to its machining plan in force."""
    return {
        row.code: MachiningPlan(product=row.code, needs=needs_from(json.loads(row.data)))
        for row in _newest(connection, site_id, MachiningRevision, before_us)
    }


def read_fixtures(
    connection: Connection, site_id: int, before_us: int = FOREVER_US
) -> dict[str, Fixture]:
    """Kind to fixture."""
    return {
        row.code: Fixture(kind=row.code, count=row.many, name=row.name)
        for row in _newest(connection, site_id, FixtureCount, before_us)
    }


def read_board(connection: Connection, site_id: int, before_us: int = FOREVER_US) -> Kept:
    """The board of the case shop."""
    rows = _newest(connection, site_id, BoardPlan, before_us)
    row = next((one for one in rows if one.code == BOARD), None)
    if row is None:
        return Kept()
    placements = tuple(Placed(**one) for one in json.loads(row.data))
    return Kept(
        number=row.number, at_us=row.at_us, actor=row.actor, reason=row.reason,
        placements=placements,
    )  # fmt: skip


def read_logs(
    connection: Connection,
    site_id: int,
    stations: Sequence[str],
    window: tuple[int, int],
    before_us: int = FOREVER_US,
) -> dict[str, list[Noted]]:
    """Station to its log within a window, the oldest line first."""
    query = (
        select(SpindleNote)
        .where(
            SpindleNote.site_id == site_id,
            SpindleNote.station.in_(list(stations)),
            SpindleNote.at_us >= window[0],
            SpindleNote.at_us < window[1],
            SpindleNote.known_us < before_us,
        )
        .order_by(SpindleNote.at_us, SpindleNote.number)
    )
    found: dict[str, list[Noted]] = {station: [] for station in stations}
    for row in connection.execute(query):
        found[row.station].append(noted_of(row))
    return found


def read_last_notes(
    connection: Connection, site_id: int, station: str, most: int = 50
) -> list[Noted]:
    """The newest lines of one log, the oldest of them first."""
    query = (
        select(SpindleNote)
        .where(SpindleNote.site_id == site_id, SpindleNote.station == station)
        .order_by(SpindleNote.at_us.desc(), SpindleNote.number.desc())
        .limit(most)
    )
    return [noted_of(row) for row in connection.execute(query)][::-1]


def noted_of(row: Any) -> Noted:
    """A line of a stored row."""
    return Noted(
        number=row.number, at_us=row.at_us, kind=row.kind, actor=row.actor, serial=row.serial,
        step=row.step, reason=row.reason, text=row.text,
    )  # fmt: skip

"""The machines of the case shop, the cases that stand, and when each was on a machine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import select

from ringwright.core.calendar import Interval, working_intervals
from ringwright.db import FOREVER_US
from ringwright.floor.queries import (
    open_conditions,
    open_holds,
    standing_parts,
    visits_of_loads,
)
from ringwright.flow.queries import believed
from ringwright.flow.service import moment_of
from ringwright.ledger.service import Read
from ringwright.machines.card import MachiningPlan
from ringwright.machines.queries import read_machining
from ringwright.parts.conditions import PRIORITY
from ringwright.parts.tables import Life
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import Revision, in_force, read_revisions
from ringwright.sites.queries import read_calendars, read_stations
from ringwright.sites.site import Station

FAMILY: Final = "case"


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What the case shop stands on: its products, what they need, its machines."""

    cards: dict[str, RouteCard]
    """Product to the card in force."""
    revisions: dict[tuple[str, str], RouteCard]
    plans: dict[str, MachiningPlan]
    stations: tuple[Station, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A case on the floor."""

    serial: str
    product: str
    revision: str
    step: int
    in_work: bool
    station: str
    since_us: int
    created_us: int
    raised: bool
    hold: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """A case on a machine, from the begin of its visit to the end."""

    serial: str
    step: int
    station: str
    begin_us: int
    end_us: int
    """FOREVER_US while it is on."""

    @property
    def on(self) -> bool:
        """True while the visit is open."""
        return self.end_us == FOREVER_US


def read_ground(read: Read) -> Ground:
    """Products of family case, and the stations their machining steps name."""
    by_product: dict[str, list[Revision]] = {}
    for row in read_revisions(read.connection, read.site.id):
        if row.card.family == FAMILY:
            by_product.setdefault(row.product, []).append(row)
    cards = {code: in_force(rows, read.now_us).card for code, rows in by_product.items()}
    plans = read_machining(read.connection, read.site.id, read.known_before_us)
    plans = {code: plan for code, plan in plans.items() if code in cards}
    groups = {
        step.station_group
        for card in cards.values()
        for step in card.steps
        if step.kind == "machining"
    }
    named = {code for plan in plans.values() for need in plan.needs for code in need.machines}
    stations = [
        one
        for one in read_stations(read.connection, read.site.id)
        if one.code in named or (one.group and one.group in groups)
    ]
    return Ground(
        cards=cards,
        revisions={
            (row.product, row.revision): row.card
            for rows in by_product.values()
            for row in rows
        },
        plans=plans,
        stations=tuple(sorted(stations, key=lambda one: one.code)),
    )


def read_standing(read: Read, ground: Ground) -> list[Standing]:
    """Every case on the floor, the oldest first."""
    at_us = moment_of(read)
    found: list[Standing] = []
    for product in ground.cards:
        rows = read.connection.execute(standing_parts(read, at_us, product)).all()
        holds = {
            row.serial: row.reason
            for row in read.connection.execute(open_holds(read, at_us, product))
        }
        raised = {
            row.serial
            for row in read.connection.execute(open_conditions(read, at_us, product))
            if row.kind == PRIORITY
        }
        created = _created(read, [row.serial for row in rows])
        found += [
            Standing(
                serial=row.serial, product=row.product, revision=row.revision, step=row.step,
                in_work=bool(row.in_work), station=row.station or "", since_us=row.since_us,
                created_us=created.get(row.serial, row.since_us),
                raised=row.serial in raised, hold=holds.get(row.serial),
            )
            for row in rows
        ]  # fmt: skip
    return sorted(found, key=lambda one: (one.created_us, one.serial))


def _created(read: Read, serials: Sequence[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for start in range(0, len(serials), 500):
        query = select(Life.serial, Life.created_us).where(
            believed(read, Life), Life.serial.in_(serials[start : start + 500])
        )
        found |= {row.serial: row.created_us for row in read.connection.execute(query)}
    return found


def read_stays(read: Read, ground: Ground, since_us: int, before_us: int) -> list[Stay]:
    """Every stay on a machine of the shop that reached into the window, the oldest first."""
    codes = [one.code for one in ground.stations]
    at_us = min(before_us, moment_of(read))
    rows: Sequence[Any] = read.connection.execute(
        visits_of_loads(read, at_us, codes, since_us)
    ).all()
    stays = [
        Stay(
            serial=row.serial, step=row.step, station=row.station, begin_us=row.begin_us,
            end_us=row.end_us if row.end_us <= max(at_us - 1, read.now_us) else FOREVER_US,
        )
        for row in rows
    ]  # fmt: skip
    return sorted(stays, key=lambda one: (one.begin_us, one.serial))


def read_hours(
    read: Read, stations: Sequence[Station], start_us: int, end_us: int
) -> dict[str, tuple[Interval, ...]]:
    """Station to when it works in a window; many share one calendar."""
    known: dict[str, tuple[Interval, ...]] = {}
    for station in stations:
        if station.calendar not in known:
            calendars = read_calendars(
                read.connection, read.site.id, station.calendar or None, read.known_before_us
            )
            known[station.calendar] = working_intervals(
                calendars, start_us, end_us, read.site.zone
            )
    return {station.code: known[station.calendar] for station in stations}

"""Where to look for a part that should be here and is not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import and_, select

from ringwright.bench.queries import find_serial
from ringwright.db import FOREVER_US
from ringwright.floor.queries import carrier_stays_now, stays_of
from ringwright.floor.standing import resolve
from ringwright.flow.queries import believed
from ringwright.ledger.service import Read
from ringwright.parts.conditions import SEARCH, WHEREABOUTS
from ringwright.parts.queries import PartCard, read_events, read_part
from ringwright.parts.tables import Condition, PartNow, Visit
from ringwright.routecards.card import Step
from ringwright.routecards.queries import card_finder
from ringwright.sites.queries import read_stations

MOST_MATES: Final = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Mate:
    """A part that lay in the same place, and where it is now."""

    serial: str
    place: str
    step: int | None
    lies: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """What the record says about where a part may be."""

    part: PartCard
    search: Any
    """The search that is on, or None."""
    put: Any
    """When and by whom it was last put somewhere, or None."""
    lies: tuple[str, ...]
    carried: Any
    """When and by whom its carrier was last moved, or None."""
    mates: tuple[Mate, ...]
    visit: Any
    """The visit it had last, or None."""
    last: Any
    """The newest entry on it, whatever it was."""
    due: Step | None
    stations: tuple[str, ...]
    """Where its next step is done."""


def read_trail(read: Read, text: str) -> Trail:
    """Everything that helps to find a part; raises Missing."""
    part = read_part(read, find_serial(read, text))
    stays = {r.code: r.place for r in read.connection.execute(carrier_stays_now(read.site.id))}
    put = _condition(read, part.serial, WHEREABOUTS)
    step = card_finder(read.connection, read.site.id)(
        part.product, part.revision
    ).by_number.get(part.step or -1)
    return Trail(
        part=part,
        search=_condition(read, part.serial, SEARCH),
        put=put,
        lies=resolve(part.whereabouts, stays) if part.whereabouts else (),
        carried=_carried(read, part.whereabouts),
        mates=_mates(read, part, put, stays),
        visit=_last_visit(read, part.serial),
        last=read_events(read, part.serial)[-1],
        due=step,
        stations=_stations(read, step),
    )


def _condition(read: Read, serial: str, kind: str) -> Any:
    query = select(Condition.value, Condition.note, Condition.from_us, Condition.actor).where(
        believed(read, Condition),
        Condition.serial == serial,
        Condition.kind == kind,
        Condition.to_us == FOREVER_US,
    )
    return read.connection.execute(query).first()


def _carried(read: Read, whereabouts: str | None) -> Any:
    if not whereabouts:
        return None
    return read.connection.execute(stays_of(read.site.id, whereabouts)).first()


def _mates(read: Read, part: PartCard, put: Any, stays: dict[str, str]) -> tuple[Mate, ...]:
    """Parts that lay there at the same time; where they went the missing one may be too."""
    if put is None:
        return ()
    query = (
        select(PartNow.serial, PartNow.place, PartNow.step, PartNow.whereabouts)
        .join(
            Condition,
            and_(Condition.site_id == PartNow.site_id, Condition.serial == PartNow.serial),
        )
        .where(
            believed(read, Condition),
            Condition.kind == WHEREABOUTS,
            Condition.value == put.value,
            Condition.to_us >= put.from_us,
            Condition.serial != part.serial,
        )
        .distinct()
        .order_by(PartNow.serial)
        .limit(MOST_MATES)
    )
    mates = [
        Mate(
            serial=row.serial,
            place=row.place,
            step=row.step,
            lies=resolve(row.whereabouts, stays) if row.whereabouts else (),
        )
        for row in read.connection.execute(query)
    ]
    return tuple(sorted(mates, key=lambda mate: (put.value in mate.lies, mate.serial)))


def _last_visit(read: Read, serial: str) -> Any:
    query = (
        select(
            Visit.step, Visit.station, Visit.begin_us, Visit.end_us, Visit.actor, Visit.ended_by
        )
        .where(believed(read, Visit), Visit.serial == serial, Visit.step.is_not(None))
        .order_by(Visit.number.desc())
        .limit(1)
    )
    return read.connection.execute(query).first()


def _stations(read: Read, step: Step | None) -> tuple[str, ...]:
    if step is None or not step.station_group:
        return ()
    stations = read_stations(read.connection, read.site.id)
    return tuple(s.code for s in stations if step.station_group in (s.group, s.code))


def open_searches(read: Read) -> Sequence[Any]:
    """Parts looked for now, the longest search first."""
    query = (
        select(
            Condition.serial,
            Condition.value,
            Condition.note,
            Condition.from_us,
            Condition.actor,
            PartNow.product,
            PartNow.step,
        )
        .join(
            PartNow,
            and_(PartNow.site_id == Condition.site_id, PartNow.serial == Condition.serial),
        )
        .where(
            believed(read, Condition),
            Condition.kind == SEARCH,
            Condition.to_us == FOREVER_US,
        )
        .order_by(Condition.from_us, Condition.serial)
    )
    return read.connection.execute(query).all()

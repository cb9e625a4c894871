"""Loads: the parts that went through a furnace or a mould together, and so share a fate.

Visits that began with one furnace run are its load: the next run may begin while this one waits
for its review. Where no run was recorded, a load is read off the visits: visits of one step at
one station whose spans in work overlap in time, chained. A new load starts when a visit begins
at or after the last end so far. Where no station was recorded either, visits that began in the
same instant are one load. The rule stands here twice, for rows in hand and for SQL.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Protocol

from sqlalchemy import Select, Subquery, and_, case, func, or_, select

from ringwright.core.calendar import iso_text, parse_instant
from ringwright.core.errors import Refused
from ringwright.db import FOREVER_US
from ringwright.routecards.card import RouteCard

if TYPE_CHECKING:  # words and figures of pages are slow to load; commands need none
    from ringwright.kit.numbers import Figures

LOAD_KINDS: Final = ("heat-cycle", "casting")
"""Kinds of step that are worked in loads."""


class VisitLike(Protocol):
    """What a visit must tell to be put in a load."""

    @property
    def serial(self) -> str:
        """The part."""

    @property
    def step(self) -> int | None:
        """Step number."""

    @property
    def station(self) -> str:
        """Station code, or empty."""

    @property
    def run(self) -> str:
        """Furnace run it began with, or empty."""

    @property
    def begin_us(self) -> int:
        """When it began."""

    @property
    def end_us(self) -> int:
        """When it ended; far ahead while it is in work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Visits that were in work together: one step, one station, from the first begin on."""

    step: int
    station: str
    begin_us: int
    end_us: int
    serials: tuple[str, ...]
    """In the order in which they went in."""


def load_steps(card: RouteCard) -> frozenset[int]:
    """The steps of a route that are worked in loads."""
    return frozenset(step.number for step in card.steps if step.kind in LOAD_KINDS)


def loads_of(visits: Iterable[VisitLike]) -> tuple[Load, ...]:
    """The loads of some visits, by step, station and time. Waits are left out."""
    ordered = sorted(
        (visit for visit in visits if visit.step is not None),
        key=lambda v: (v.step, v.station, v.run, v.begin_us, v.end_us, v.serial),
    )
    found: list[list[VisitLike]] = []
    end_us = 0
    for visit in ordered:
        if found and _together(found[-1][-1], visit, end_us):
            found[-1].append(visit)
            end_us = max(end_us, visit.end_us)
        else:
            found.append([visit])
            end_us = visit.end_us
    loads = (_load(group) for group in found)
    return tuple(sorted(loads, key=lambda load: (load.step, load.station, load.begin_us)))


def _together(last: VisitLike, visit: VisitLike, end_us: int) -> bool:
    """True when a visit belongs to the load that the one before it belongs to."""
    if (last.step, last.station, last.run) != (visit.step, visit.station, visit.run):
        return False
    if visit.run or visit.begin_us == last.begin_us:
        return True
    return bool(visit.station) and visit.begin_us < end_us


def _load(group: list[VisitLike]) -> Load:
    first = group[0]
    assert first.step is not None
    return Load(
        step=first.step,
        station=first.station,
        begin_us=first.begin_us,
        end_us=max(visit.end_us for visit in group),
        serials=tuple(dict.fromkeys(visit.serial for visit in group)),
    )


def with_loads(visits: Select[*tuple[Any, ...]], *within: str) -> Subquery:
    """The same rows, each with `load_begin_us`: the first begin of the load it belongs to.

    `visits` selects at least serial, step, station, run, begin_us and end_us; it runs alike on
    both stores (gaps and islands by window functions). `within` names further columns in which
    the parts of one load agree, such as the product where visits of several are asked for.
    """
    rows = visits.subquery("visits")
    names = ("step", "station", "run", *within)
    own = tuple(rows.c[name] for name in names)
    order = (rows.c.begin_us, rows.c.end_us, rows.c.serial)
    window: dict[str, Any] = {"partition_by": own, "order_by": order}
    end = func.coalesce(rows.c.end_us, FOREVER_US)
    marked = select(
        rows,
        func.lag(rows.c.begin_us).over(**window).label("last_begin_us"),
        func.max(end).over(**window, rows=(None, -1)).label("ends_so_far_us"),
    ).subquery("marked")
    later = marked.c.begin_us > marked.c.last_begin_us
    after = or_(marked.c.station == "", marked.c.begin_us >= marked.c.ends_so_far_us)
    new = and_(marked.c.run == "", later, after)
    starts = case((marked.c.last_begin_us.is_(None), 1), (new, 1), else_=0).label("starts")
    started = select(*(marked.c[column.key] for column in rows.c), starts).subquery("started")
    numbered = select(
        started,
        func.sum(started.c.starts)
        .over(
            partition_by=tuple(started.c[name] for name in names),
            order_by=(started.c.begin_us, started.c.end_us, started.c.serial),
            rows=(None, 0),
        )
        .label("load"),
    ).subquery("numbered")
    mine = (*(numbered.c[name] for name in names), numbered.c.load)
    return select(
        *(numbered.c[column.key] for column in rows.c),
        func.min(numbered.c.begin_us).over(partition_by=mine).label("load_begin_us"),
    ).subquery("in_loads")


def load_code(station: str, begin_us: int, zone: str) -> str:
    """How an address names a load: INF-1@2026-11-25T14:20:00+01:00."""
    return f"{station}@{iso_text(begin_us, zone)}"


def parse_load(code: str, zone: str) -> tuple[str, int]:
    """Station and first begin of a load named in an address; raises Refused."""
    station, at, moment = code.rpartition("@")
    try:
        # A plus sign typed into an address arrives as a space.
        return station, parse_instant(moment.strip().replace(" ", "+"), zone)
    except ValueError:
        why = "write it as INF-1@2026-11-25T14:20:00+01:00" if at else "it has no @"
        raise Refused(f"{code[:80]!r} names no load: {why}") from None


def load_name(station: str, begin_us: int, zone: str, show: Figures) -> str:
    """How a person names a load: INF-1, Wed 25 Nov 14:20."""
    moment = f"{show.day(begin_us, zone)} {show.clock(begin_us, zone)}"
    return f"{station}, {moment}" if station else moment

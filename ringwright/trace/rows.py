"""The two sides of the threads picture: when the suspect touched, and where parts are now."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from ringwright.core.calendar import site_time, wall_us
from ringwright.flow.loads import LOAD_KINDS, Load, loads_of
from ringwright.routecards.card import Step
from ringwright.trace.queries import Touch
from ringwright.trace.touched import SCRAPPED, SENT, USED, Touched, TouchedPart

MOST_ROWS: Final = 20
LOAD, DAY, WEEK, MONTH, YEAR = "load", "day", "week", "month", "year"
SPANS: Final = (LOAD, DAY, WEEK, MONTH, YEAR)


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasion:
    """One row on the suspect line: a load, or a day, week or month of touches."""

    span: str
    """What the row is: one of SPANS."""
    at_us: int
    """The first begin of a load; else the first touch in it."""
    load: Load | None
    how: tuple[str, ...]
    parts: tuple[TouchedPart, ...]


def occasions(touched: Touched) -> tuple[Occasion, ...]:
    """When the parts were touched last, the newest on top, in at most twenty rows."""
    loads = _loads(touched)
    for span in SPANS:
        rows = _rows(touched, loads if span == LOAD else {}, span)
        if len(rows) <= MOST_ROWS:
            break
    return rows


def _step(touched: Touched, part: TouchedPart, touch: Touch) -> Step | None:
    card = touched.cards.get((part.standing.product, part.standing.revision))
    return card.by_number.get(touch.step or -1) if card else None


@dataclass(frozen=True, slots=True)
class _Visit:
    """A touch as the rule of loads reads it."""

    serial: str
    step: int | None
    station: str
    begin_us: int
    end_us: int
    run: str


def _loads(touched: Touched) -> dict[tuple[str, int], Load]:
    """(serial, begin) of every touch that went through a step worked in loads, to its load."""
    visits = []
    for part in touched.parts:
        for touch in part.touches:
            step = _step(touched, part, touch) if touch.how == "visit" else None
            if step is not None and step.kind in LOAD_KINDS:
                where = (part.serial, touch.step, touch.station)
                visits.append(_Visit(*where, touch.at_us, touch.end_us, touch.run))
    by_place: dict[tuple[int | None, str], list[Load]] = {}
    for load in loads_of(visits):
        by_place.setdefault((load.step, load.station), []).append(load)
    found = {}
    for visit in visits:
        # Loads of one step at one station follow one another: the last that began by then.
        there = by_place[visit.step, visit.station]
        place = bisect_right(there, visit.begin_us, key=lambda load: load.begin_us)
        found[visit.serial, visit.begin_us] = there[place - 1]
    return found


def _rows(
    touched: Touched, loads: dict[tuple[str, int], Load], span: str
) -> tuple[Occasion, ...]:
    groups: dict[tuple[object, ...], list[tuple[TouchedPart, Touch, Load | None]]] = {}
    for part in touched.parts:
        last = part.touches[-1]
        load = loads.get((part.serial, last.at_us))
        key: tuple[object, ...] = (
            (LOAD, load.begin_us, load.station, load.step)
            if load
            else (_PERIODS[DAY if span == LOAD else span](last.at_us, touched.zone),)
        )
        groups.setdefault(key, []).append((part, last, load))
    rows = [_occasion(span, group) for group in groups.values()]
    return tuple(sorted(rows, key=lambda row: -row.at_us))


def _occasion(span: str, group: Sequence[tuple[TouchedPart, Touch, Load | None]]) -> Occasion:
    load = group[0][2]
    return Occasion(
        span=LOAD if load else (DAY if span == LOAD else span),
        at_us=load.begin_us if load else min(touch.at_us for _, touch, _ in group),
        load=load,
        how=tuple(sorted({touch.how for _, touch, _ in group})),
        parts=tuple(part for part, _, _ in group),
    )


_PERIODS: Final[dict[str, Callable[[int, str], object]]] = {
    DAY: lambda us, zone: site_time(us, zone).date(),
    WEEK: lambda us, zone: site_time(us, zone).date().isocalendar()[:2],
    MONTH: lambda us, zone: (site_time(us, zone).year, site_time(us, zone).month),
    YEAR: lambda us, zone: site_time(us, zone).year,
}


def period_of(row: Occasion, zone: str) -> tuple[int, int]:
    """The day, week, month or year at the site that a row stands for [us)."""
    here = site_time(row.at_us, zone).replace(tzinfo=None)
    start = here.replace(hour=0, minute=0, second=0, microsecond=0)
    if row.span == WEEK:
        start -= timedelta(days=start.weekday())
    elif row.span == MONTH:
        start = start.replace(day=1)
    elif row.span == YEAR:
        start = start.replace(month=1, day=1)
    longest = {WEEK: 7, MONTH: 31, YEAR: 366}.get(row.span, 1)
    end = start + timedelta(days=longest)
    if row.span in (MONTH, YEAR):
        end = end.replace(day=1) if row.span == MONTH else end.replace(month=1, day=1)
    return wall_us(start, zone), wall_us(end, zone)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place on the right: a step of a route, the stock, or where parts left to."""

    fate: str
    product: str
    step: Step | None
    number: int | None
    """The step's number, though the route may not know it."""
    parts: tuple[TouchedPart, ...]

    @property
    def held(self) -> int:
        """Parts of it on hold."""
        return sum(part.standing.hold is not None for part in self.parts)


def places(touched: Touched) -> tuple[Place, ...]:
    """Where the parts are: steps as the route goes, then stock, other parts, sent, scrapped."""
    groups: dict[tuple[int, str, int, int], list[TouchedPart]] = {}
    for part in touched.parts:
        groups.setdefault(_place_key(touched, part), []).append(part)
    return tuple(_place(touched, groups[key]) for key in sorted(groups))


_ORDER: Final = {USED: 2, SENT: 3, SCRAPPED: 4}


def _place_key(touched: Touched, part: TouchedPart) -> tuple[int, str, int, int]:
    standing = part.standing
    if part.fate in _ORDER:
        number = standing.scrapped_at or 0 if part.fate == SCRAPPED else 0
        return (_ORDER[part.fate], "", number, number)
    if standing.step is None:
        return (1, "", 0, 0)
    card = touched.cards[standing.product, standing.revision]
    return (0, standing.product, card.index.get(standing.step, 0), standing.step)


def _place(touched: Touched, parts: Sequence[TouchedPart]) -> Place:
    first = parts[0].standing
    fate = parts[0].fate
    number = first.scrapped_at if fate == SCRAPPED else first.step
    card = touched.cards[first.product, first.revision]
    return Place(
        fate=fate,
        product=first.product,
        step=card.by_number.get(number or -1),
        number=number,
        parts=tuple(parts),
    )


SHAPES: Final = {"waiting": "waiting", "in work": "work"}


def shape_of(part: TouchedPart) -> tuple[str, bool]:
    """(shape, held) of a part's mark."""
    place = part.standing.place
    return SHAPES.get(place, place), part.standing.hold is not None

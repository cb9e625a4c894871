"""Queues and station hours of one snapshot, and each product's line against its bounds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from ringwright.core.calendar import HOUR_US, Interval, working_intervals, working_us
from ringwright.core.errors import Refused
from ringwright.floor.queries import open_holds
from ringwright.flow.account import read_account
from ringwright.flow.queries import Window, life_counts
from ringwright.flow.service import moment_of
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.queueing.hours import Hours, Span, hours_of, mean_number
from ringwright.queueing.line import Line
from ringwright.queues import queries
from ringwright.queues.model import Group, ProductLine, QueuesSheet, Waiting
from ringwright.queues.queries import Stay
from ringwright.routecards.card import RouteCard, Step
from ringwright.routecards.queries import card_in_force, read_revisions
from ringwright.sites.queries import read_calendars, read_stations
from ringwright.sites.site import Station

WEEKS: Final = (1, 2, 4)
"""How many weeks back can be asked for."""
USUAL_WEEKS: Final = 2
WEEK_US: Final = 7 * 24 * HOUR_US
LEFT: Final = ("released", "scrapped")


def read_queues(read: Read, weeks: int = USUAL_WEEKS) -> QueuesSheet:
    """The queues now and the hours of the last weeks. Raises Refused for another span.

    The work grows with what happened in the span and stands now, never with the record.
    """
    if weeks not in WEEKS:
        raise Refused("choose 1, 2 or 4 weeks")
    facts = _read_facts(read, read.now_us - weeks * WEEK_US)
    groups = sorted(
        (_group(facts, code) for code in facts.stations_of),
        key=lambda one: (-(one.hours.use or 0.0), one.code),
    )
    return QueuesSheet(
        drawn=snapshot_of(read),
        weeks=weeks,
        from_us=facts.from_us,
        groups=tuple(groups),
        lines=tuple(_lines(read, facts)),
        accounts=tuple(
            (product, read_account(read, product, facts.from_us, moment_of(read)))
            for product in dict.fromkeys(product for product, _ in facts.cards)
        ),
        no_station=sum(
            1 for row in facts.visits if row.step is not None and not row.station
            and row.end_us > facts.from_us
        ),
    )  # fmt: skip


@dataclass
class _Facts:
    """What was read, with what follows from it once for all groups."""

    from_us: int
    now_us: int
    visits: Sequence[Stay]
    stations_of: dict[str, list[Station]]
    working: dict[str, tuple[Interval, ...]]
    """By calendar code; empty: the site's own."""
    shut: Mapping[str, list[Span]]
    holds: Mapping[str, str]
    cards: Mapping[tuple[str, str], RouteCard]
    used: dict[str, list[Span]] = field(default_factory=lambda: defaultdict(list))
    waits: dict[str, list[tuple[Stay, Step]]] = field(default_factory=lambda: defaultdict(list))

    def group_of(self, step: Step) -> str:
        """The station group of a step: that named, or that of the station named."""
        named = step.station_group
        if named in self.stations_of:
            return named
        own = (c for c, all_ in self.stations_of.items() if any(s.code == named for s in all_))
        return next(own, "")

    def step(self, row: Stay, number: int | None) -> Step | None:
        """A step of a row's part, on the card that the part started on."""
        card = self.cards.get((row.product, row.revision))
        return card.by_number.get(number) if card and number is not None else None


def _read_facts(read: Read, from_us: int) -> _Facts:
    run, site = read.connection.execute, read.site
    stations = read_stations(read.connection, site.id)
    revisions = read_revisions(read.connection, site.id)
    groups: dict[str, list[Station]] = defaultdict(list)
    for station in stations:
        groups[station.group or station.code].append(station)
    shut: dict[str, list[Span]] = defaultdict(list)
    for row in run(queries.shut_over(read, from_us)):
        shut[row.code].append((row.from_us, row.to_us))
    facts = _Facts(
        from_us=from_us,
        now_us=read.now_us,
        visits=queries.read_stays(read, from_us),
        stations_of=dict(groups),
        working={
            code: _working(read, code, from_us)
            for code in sorted({"", *(station.calendar for station in stations)})
        },
        shut=shut,
        holds={r.serial: r.reason for r in run(open_holds(read, moment_of(read), None))},
        cards={(row.product, row.revision): row.card for row in revisions},
    )
    _sort_out(facts)
    return facts


def _working(read: Read, code: str, from_us: int) -> tuple[Interval, ...]:
    known = read_calendars(read.connection, read.site.id, code or None, read.known_before_us)
    return working_intervals(known, from_us, read.now_us, read.site.zone)


def _sort_out(facts: _Facts) -> None:
    """Each visit to its station, each wait to the group it waits for."""
    now_us, used, waits = facts.now_us, facts.used, facts.waits
    # Thousands of visits share some tens of steps: each is looked up once.
    known: dict[tuple[str, str, int | None], tuple[str, Step] | None] = {}
    for row in facts.visits:
        end_us = row.end_us
        if row.station and row.step is not None:
            used[row.station].append((row.begin_us, min(end_us, now_us)))
        if end_us < now_us:
            asked = (row.product, row.revision, row.next_step)
            if asked not in known:
                step = facts.step(row, row.next_step)
                known[asked] = (facts.group_of(step), step) if step is not None else None
            found = known[asked]
            if found is not None:
                waits[found[0]].append((row, found[1]))


def _group(facts: _Facts, code: str) -> Group:
    waits = facts.waits.get(code, [])
    spans = [(row.end_us, min(row.leave_us, facts.now_us)) for row, _ in waits]
    hours = Hours()
    for one in facts.stations_of[code]:
        used = facts.used.get(one.code, [])
        hours += hours_of(
            facts.working[one.calendar], used, facts.shut.get(one.code, ()), spans
        )
    over = [row.leave_us - row.end_us for row, _ in waits if row.leave_us <= facts.now_us]
    now = [_waiting(facts, row, step) for row, step in waits if row.leave_us > facts.now_us]
    return Group(
        code=code,
        stations=tuple(station.code for station in facts.stations_of[code]),
        hours=hours,
        waiting=tuple(sorted(now, key=lambda part: (part.since_us, part.serial))),
        mean_queue=mean_number(spans, facts.from_us, facts.now_us),
        mean_wait_us=sum(over) // len(over) if over else None,
    )


def _waiting(facts: _Facts, row: Stay, step: Step) -> Waiting:
    return Waiting(
        serial=row.serial,
        product=row.product,
        step=step.number,
        step_name=step.name,
        since_us=row.end_us,
        hold=facts.holds.get(row.serial),
    )


def _lines(read: Read, facts: _Facts) -> Iterable[ProductLine]:
    products = tuple(dict.fromkeys(product for product, _ in facts.cards))
    window = Window(products=products, start_us=facts.from_us, end_us=facts.now_us)
    left: dict[str, int] = defaultdict(int)
    if products:
        for row in read.connection.execute(life_counts(read, window)):
            left[row.product] += row.parts if row.moment in LEFT else 0
    revisions = read_revisions(read.connection, read.site.id)
    span_h = (facts.now_us - facts.from_us) / HOUR_US
    by_product: dict[str, list[Stay]] = defaultdict(list)
    for stay in facts.visits:
        by_product[stay.product].append(stay)
    for product in products:
        rows = by_product[product]
        times = _Times(facts, rows)
        for step in card_in_force(revisions, product, read.now_us).steps:
            times.add(step)
        neck, rate = times.slowest()
        known = rate < float("inf") and times.raw_h > 0
        yield ProductLine(
            product=product,
            line=Line(rate_per_h=rate, raw_h=times.raw_h) if known else None,
            neck=neck,
            wip=mean_number(
                ((row.begin_us, row.leave_us) for row in rows), facts.from_us, facts.now_us
            ),
            exits=left[product],
            rate_per_h=left[product] / span_h,
            planned=tuple(times.planned),
        )


class _Times:
    """Touch times of one product's steps, learned from the visits ended in the span."""

    def __init__(self, facts: _Facts, rows: Iterable[Stay]) -> None:
        self.facts, self.raw_h = facts, 0.0
        self.planned: list[int] = []
        self._load_h: dict[str, float] = defaultdict(float)
        self._ended: dict[int, list[Stay]] = defaultdict(list)
        self._calendars = {
            one.code: one.calendar for all_ in facts.stations_of.values() for one in all_
        }
        for row in rows:
            if row.step is not None and facts.from_us < row.end_us <= facts.now_us:
                self._ended[row.step].append(row)

    def add(self, step: Step) -> None:
        """Count a step: hours of the clock into the raw time, working hours to its group."""
        rows = self._ended.get(step.number, [])
        group = self.facts.group_of(step)
        if not rows:
            self.planned.append(step.number)
            self.raw_h += step.planned_hours
            self._load_h[group] += step.planned_hours
            return
        # Passes again after rework are work too: hours of all visits over the parts seen.
        parts = len({row.serial for row in rows})
        self.raw_h += sum(row.end_us - row.begin_us for row in rows) / HOUR_US / parts
        self._load_h[group] += sum(map(self._worked_us, rows)) / HOUR_US / parts

    def _worked_us(self, row: Stay) -> int:
        calendar = self._calendars.get(row.station, "")
        return working_us(self.facts.working[calendar], row.begin_us, row.end_us)

    def slowest(self) -> tuple[str, float]:
        """The group that can do the fewest of these parts, and how many an hour."""
        found = ("", float("inf"))
        span_us = self.facts.now_us - self.facts.from_us
        for code, load_h in self._load_h.items():
            stations = self.facts.stations_of.get(code, [])
            open_share = sum(
                one.capacity * working_us(self.facts.working[one.calendar],
                                          self.facts.from_us, self.facts.now_us)
                for one in stations
            ) / span_us  # fmt: skip
            if load_h and open_share and open_share / load_h < found[1]:
                found = (code, open_share / load_h)
        return found

"""The acts of a week, read from one snapshot; asked once for all products."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from ringwright.core.authorisation import asked_of
from ringwright.core.instants import HOUR_US
from ringwright.flow import act_queries as queries
from ringwright.flow.acts import (
    GAUGE,
    LEAST_IDLE_H,
    PAPER,
    SOON_DAYS,
    Act,
    ActFacts,
    ActPart,
    Lapsing,
    ShortSet,
    Starved,
    rank_acts,
)
from ringwright.flow.hours import GroupHours, read_hours
from ringwright.flow.windows import NOTHING, read_pasts
from ringwright.ledger.service import Read
from ringwright.parts.windows import Past, windows_from
from ringwright.routecards.card import RouteCard, Step
from ringwright.routecards.queries import Revision
from ringwright.sites.queries import read_grants, read_people, when_at
from ringwright.sites.rules import lapses
from ringwright.sites.site import Station

LOOK_US = 14 * 24 * HOUR_US
"""How far back the last work of a group is looked for; one idle for longer is not told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """A product's card in force, what it promised this week and what is out."""

    card: RouteCard
    target: float | None
    output: int


def read_acts(
    read: Read,
    at_us: int,
    routes: Mapping[str, Sequence[Revision]],
    promises: Mapping[str, Promise],
) -> tuple[Act, ...]:
    """What is to be acted on now, ranked; `at_us` is the moment of the snapshot."""
    products = list(promises)
    run = read.connection.execute
    rows = run(queries.standing_parts(read, products, at_us)).all()
    cards = {(one.product, one.revision): one.card for own in routes.values() for one in own}
    starts = [at_us - LOOK_US, *(row.since_us for row in rows)]
    hours = read_hours(read, starts, at_us + 1)
    serials = queries.standing_serials(read, products, at_us)
    held = {row.serial: row for row in run(queries.held_parts(read, products, at_us))}
    at = _At(
        now_us=read.now_us,
        cards=cards,
        hours=hours,
        held=held,
        pasts=read_pasts(read, at_us, serials, cards.values()),
    )
    parts = [at.part(row) for row in rows]
    return rank_acts(
        ActFacts(
            now_us=read.now_us,
            targets={code: one.target for code, one in promises.items()},
            to_go={
                code: None if one.target is None else max(0.0, one.target - one.output)
                for code, one in promises.items()
            },
            parts=parts,
            starved=tuple(_starved(read, at_us, promises, parts, hours)),
            short=tuple(_short(read, promises)),
            lapsing=(*_gauges(read, promises, parts), *_papers(read, promises, parts)),
        )
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _At:
    """What every part is looked at with."""

    now_us: int
    cards: Mapping[tuple[str, str], RouteCard]
    hours: GroupHours
    held: Mapping[str, Any]
    pasts: Mapping[str, Past]

    def part(self, row: Any) -> ActPart:
        """One part with its excess over plan and the window it is inside."""
        card = self.cards.get((row.product, row.revision))
        step = card.by_number.get(row.step) if card else None
        hold = self.held.get(row.serial)
        clock, worked = self._excess(row, step)
        return ActPart(
            serial=row.serial,
            product=row.product,
            step=row.step,
            in_work=bool(row.in_work),
            since_us=row.since_us,
            excess_us=clock,
            excess_worked_us=worked,
            held=hold.reason if hold else None,
            held_since_us=hold.from_us if hold else 0,
            priority=row.priority,
            last_seq=row.last_seq,
            deadline_us=self._deadline(row, card),
        )

    def _excess(self, row: Any, step: Step | None) -> tuple[int, int]:
        if step is None:
            return 0, 0
        plan_us = int((step.planned_hours if row.in_work else step.queue_hours) * HOUR_US)
        worked = self.hours.worked_us(step.station_group, row.since_us, self.now_us)
        return max(0, self.now_us - row.since_us - plan_us), max(0, worked - plan_us)

    def _deadline(self, row: Any, card: RouteCard | None) -> int | None:
        if card is None:
            return None
        past = self.pasts.get(row.serial, NOTHING)
        found = windows_from(card, row.step, past, self.now_us, in_work=bool(row.in_work))
        return next((one.deadline_us for one in found if one.let_on is None), None)


def _starved(
    read: Read,
    at_us: int,
    promises: Mapping[str, Promise],
    parts: Sequence[ActPart],
    hours: GroupHours,
) -> Iterable[Starved]:
    """Groups that work now, with nothing before them that may begin and nothing in work."""
    shut = set(read.connection.execute(queries.shut_stations(read, at_us)).scalars())
    groups: dict[str, list[Station]] = {}
    for station in hours.stations:
        if station.group and station.code not in shut:
            groups.setdefault(station.group, []).append(station)
    steps = _steps_of(promises)
    busy = {(one.product, one.step) for one in parts if one.in_work or one.held is None}
    idle = {
        group: stations
        for group, stations in groups.items()
        if group in steps
        and hours.works_at(group, at_us)
        and not any((product, step.number) in busy for product, step in steps[group])
    }
    # Of all stations, so that the question is the same whatever stands idle.
    codes = [one.code for one in hours.stations if one.group]
    asked = queries.last_work(read, codes, at_us - LOOK_US, at_us)
    ends = {row.station: row.end_us for row in read.connection.execute(asked)}
    for group, stations in sorted(idle.items()):
        last = max((ends[one.code] for one in stations if one.code in ends), default=None)
        if last is None:
            continue  # nobody can say since when
        since_us = max(last, hours.span[0])
        idle_h = hours.worked_us(group, since_us, at_us) / HOUR_US
        if idle_h >= LEAST_IDLE_H:
            product, step = steps[group][0]
            before, n = _feeds(promises[product].card, step.number, product, parts)
            yield Starved(
                group=group, stations=len(stations), product=product, step=step.number,
                since_us=last, idle_h=idle_h, planned_h=step.planned_hours,
                feeds_step=before, feeds=n,
            )  # fmt: skip


def _steps_of(promises: Mapping[str, Promise]) -> dict[str, list[tuple[str, Step]]]:
    """Station group to the steps done there; products with a promise first."""
    ordered = sorted(promises.items(), key=lambda one: one[1].target is None)
    found: dict[str, list[tuple[str, Step]]] = {}
    for product, promise in ordered:
        for step in promise.card.steps:
            if step.station_group:
                found.setdefault(step.station_group, []).append((product, step))
    return found


def _feeds(
    card: RouteCard, step: int, product: str, parts: Sequence[ActPart]
) -> tuple[int | None, int]:
    """The nearest step before one at which parts stand, and how many."""
    for number in reversed(card.order[: card.index[step]]):
        n = sum((part.product, part.step) == (product, number) for part in parts)
        if n:
            return number, n
    return None, 0


def _short(read: Read, promises: Mapping[str, Promise]) -> Iterable[ShortSet]:
    """Products whose free finished blades lack one for a whole set more; now only."""
    sizes = {code: one.card.set_size for code, one in promises.items() if one.card.set_size}
    if read.as_of_us is not None or not sizes:
        return
    for row in read.connection.execute(queries.free_blades(read, sizes)):
        size = sizes[row.product] or 0
        if size > 1 and row.free % size == size - 1:
            yield ShortSet(product=row.product, free=row.free, size=size)


def _gauges(
    read: Read, promises: Mapping[str, Promise], parts: Sequence[ActPart]
) -> Iterable[Lapsing]:
    """Gauges in use that fall due soon, with what only they can decide."""
    today = date.fromisoformat(when_at(read.now_us, read.site.zone).day)
    due: dict[str, tuple[str, int, str]] = {}
    for row in read.connection.execute(queries.gauges_due(read)):
        if row.good and not json.loads(row.data)["withdrawn"]:
            left = (date.fromisoformat(row.due_on) - today).days
            due[row.code] = (row.kind, left, row.due_on)
    for code, (kind, left, day) in sorted(due.items()):
        if not 0 <= left <= SOON_DAYS:
            continue
        others = any(k == kind and d > SOON_DAYS for c, (k, d, _) in due.items() if c != code)
        product, n = ("", 0) if others else _waiting_for_kind(promises, parts, kind)
        yield Lapsing(
            kind=GAUGE, code=code, what=kind, day=day, left_days=left, product=product, parts=n
        )


def _waiting_for_kind(
    promises: Mapping[str, Promise], parts: Sequence[ActPart], kind: str
) -> tuple[str, int]:
    """The product with most parts at steps that read with a kind of gauge, and how many."""
    asked = {
        (product, step.number)
        for product, promise in promises.items()
        for step in promise.card.steps
        if any(one.gauge_kind == kind for one in step.characteristics)
    }
    return _most_at(asked, parts)


def _papers(
    read: Read, promises: Mapping[str, Promise], parts: Sequence[ActPart]
) -> Iterable[Lapsing]:
    """Authorisations that end soon, with what nobody else may do then."""
    zone, site_id = read.site.zone, read.site.id
    grants = read_grants(read.connection, site_id, zone, known_before_us=read.known_before_us)
    people, when = read_people(read.connection, site_id), when_at(read.now_us, zone)
    soon = [
        one
        for one in lapses(people, grants, when, SOON_DAYS)
        if one.left_days is not None and one.left_days >= 0
    ]
    ending = {(one.person, one.method) for one in soon}
    for one in soon:
        others = any(
            method == one.method and (person, method) not in ending for person, method in grants
        )
        asked = set() if others else _steps_asking(promises, one.method)
        product, n = _most_at(asked, parts)
        yield Lapsing(
            kind=PAPER, code=f"{one.person} {one.method}", what=one.what, day=one.day or "",
            left_days=one.left_days or 0, product=product, parts=n,
        )  # fmt: skip


def _steps_asking(promises: Mapping[str, Promise], method: str) -> set[tuple[str, int]]:
    return {
        (product, step.number)
        for product, promise in promises.items()
        for step in promise.card.steps
        if step.authorisation and asked_of(step.authorisation).method == method
    }


def _most_at(asked: set[tuple[str, int]], parts: Sequence[ActPart]) -> tuple[str, int]:
    counts: dict[str, int] = {}
    for part in parts:
        if (part.product, part.step) in asked:
            counts[part.product] = counts.get(part.product, 0) + 1
    return max(counts.items(), key=lambda one: (one[1], one[0]), default=("", 0))

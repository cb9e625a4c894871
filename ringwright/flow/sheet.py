"""The whole Week page, read from one snapshot; what is asked is asked once for all products."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ringwright.core.calendar import week_of, working_intervals, working_us
from ringwright.flow import queries
from ringwright.flow.account import read_accounts
from ringwright.flow.acting import Promise, read_acts
from ringwright.flow.acts import Act
from ringwright.flow.hours import GroupHours, read_hours
from ringwright.flow.law import NO_EXITS, read_laws
from ringwright.flow.model import (
    Account,
    CycleTime,
    LittlesLaw,
    ScrapReason,
    StepHours,
    StepStanding,
    Strip,
    WeekNumbers,
    WeekSheet,
)
from ringwright.flow.queries import HOUR_US, Window
from ringwright.flow.service import (
    Routes,
    card_of,
    grouped,
    hours_of,
    moment_of,
    read_numbers,
    revisions_of,
    steps_of,
    week_bounds,
)
from ringwright.ledger.service import Read, last_entry_us
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import Revision, read_revisions
from ringwright.sites.queries import read_calendars
from ringwright.sites.site import Calendar


def read_week_sheet(
    read: Read, week: str | None = None, product: str | None = None
) -> WeekSheet:
    """Everything the Week page shows; week None is the present one, product None is all.

    Raises Missing or Refused.
    """
    site = read.site
    week = week or week_of(read.now_us, site.zone, site.week_starts)
    start_us, end_us = week_bounds(read, week)
    calendars = read_calendars(read.connection, site.id, None, read.known_before_us)
    working = working_intervals(calendars, start_us, end_us, site.zone)
    routes = _routes(read, product)
    window = Window(products=tuple(routes), start_us=start_us, end_us=end_us)
    strips = _strips(read, week, window, routes, calendars) if routes else ()
    return WeekSheet(
        site=site.code,
        site_name=site.name,
        zone=site.zone,
        week=week,
        start_us=start_us,
        end_us=end_us,
        now_us=read.now_us,
        as_of=read.as_of_us is not None,
        head_seq=read.head_seq,
        head_hash=read.head_hash,
        last_entry_us=last_entry_us(read),
        working=working,
        strips=strips,
        acts=_acts(read, window, routes, strips),
    )


def _acts(
    read: Read, window: Window, routes: Routes, strips: tuple[Strip, ...]
) -> tuple[Act, ...]:
    """What is to be acted on, while the week is under way."""
    at_us = moment_of(read)
    if not routes or not window.start_us <= read.now_us < window.end_us:
        return ()
    promises = {
        strip.numbers.product: Promise(
            card=card_of(routes[strip.numbers.product], read, window),
            target=strip.numbers.target,
            output=strip.numbers.output,
        )
        for strip in strips
    }
    return read_acts(read, at_us, routes, promises)


def _routes(read: Read, product: str | None) -> Routes:
    """The revisions of one product, or of all in the order their first ones came."""
    if product:
        return {product: revisions_of(read, product)}
    routes: dict[str, list[Revision]] = {}
    for revision in read_revisions(read.connection, read.site.id):
        routes.setdefault(revision.product, []).append(revision)
    return routes


@dataclass(frozen=True, kw_only=True)
class _Gathered:
    """What the store answered, by product."""

    at_us: int
    """The end of the week, or now if earlier."""
    working: tuple[tuple[int, int], ...]
    numbers: dict[str, WeekNumbers]
    accounts: dict[str, Account]
    standing: dict[str, list[Any]]
    scrap: dict[str, list[Any]]
    lives: dict[str, list[Any]]
    hours: tuple[tuple[int, int], ...]
    """Working time over all lives of the released parts."""
    laws: dict[str, LittlesLaw]
    restated: frozenset[str]
    steps: GroupHours
    spans: dict[str, list[Any]]
    """Visits ended in the week."""


def _strips(
    read: Read, week: str, window: Window, routes: Routes, calendars: Sequence[Calendar]
) -> tuple[Strip, ...]:
    cards = {product: card_of(rows, read, window) for product, rows in routes.items()}
    run = read.connection.execute
    at_us = min(window.end_us, moment_of(read))
    plan_us = {product: _plan_us(card) for product, card in cards.items()}
    lives = run(queries.releases(read, window)).all()
    spans = run(queries.visit_spans(read, window)).all()
    zone = read.site.zone
    numbers = read_numbers(read, week, window, routes)
    gathered = _Gathered(
        at_us=at_us,
        working=working_intervals(calendars, window.start_us, window.end_us, zone),
        numbers=numbers,
        accounts=read_accounts(read, window, numbers),
        standing=grouped(run(queries.standing_by_step(read, at_us, plan_us))),
        scrap=grouped(run(queries.scrap_reasons(read, window))),
        lives=grouped(lives),
        hours=working_intervals(
            calendars, min(row.created_us for row in lives), lives[-1].released_us, zone
        )
        if lives
        else (),
        laws=read_laws(read, window.products, at_us),
        restated=frozenset(run(queries.revoked_releases(read, window)).scalars()),
        steps=read_hours(read, [window.start_us, *_begins(spans)], window.end_us),
        spans=grouped(spans),
    )
    return tuple(
        _strip(gathered, product, card, dict(steps_of(routes[product], card)))
        for product, card in cards.items()
    )


def _strip(found: _Gathered, product: str, card: RouteCard, names: dict[int, str]) -> Strip:
    numbers, lives = found.numbers[product], found.lives.get(product, [])
    hours = _step_hours(found, numbers, card)
    return Strip(
        numbers=numbers,
        name=card.name,
        promised_now=_promised(numbers, found.working, found.at_us),
        releases_us=tuple(row.released_us for row in lives),
        standing=_standing(found.standing.get(product, []), found.at_us, names),
        scrap=tuple(_reason(row, names) for row in found.scrap.get(product, [])),
        account=found.accounts[product],
        cycle_time_working_h=_working_cycle_time(lives, found.hours, _plan_worked(hours)),
        law=found.laws.get(product, NO_EXITS),
        restated=product in found.restated,
        hours=hours,
    )


def _begins(spans: Sequence[Any]) -> list[int]:
    """When each visit's wait began."""
    return [row.begin_us - (row.queue_us or 0) for row in spans]


def _step_hours(
    found: _Gathered, numbers: WeekNumbers, card: RouteCard
) -> tuple[StepHours, ...]:
    """Medians and plans of each step, by the clock and in its station group's hours."""
    week_us = numbers.end_us - numbers.start_us
    visits: dict[int, list[Any]] = {}
    for row in found.spans.get(numbers.product, []):
        visits.setdefault(row.step, []).append(row)
    rows = []
    for step in numbers.steps:
        planned = card.by_number.get(step.number)
        group = planned.station_group if planned else ""
        here = visits.get(step.number, [])
        share = found.steps.worked_us(group, numbers.start_us, numbers.end_us) / week_us
        rows.append(
            StepHours(
                number=step.number,
                name=step.name,
                touch=step.touch_h_median,
                touch_worked=_median_h([_touch_us(row, group, found.steps) for row in here]),
                touch_plan=planned.planned_hours if planned else None,
                queue=step.queue_h_median,
                queue_worked=_median_h([_queue_us(row, group, found.steps) for row in here]),
                queue_plan=planned.queue_hours if planned else None,
                queue_plan_worked=planned.queue_hours * share if planned else None,
            )
        )
    return tuple(rows)


def _touch_us(row: Any, group: str, hours: GroupHours) -> int | None:
    """Where a visit was paused, nobody knows which of its closed hours lay in the pause: its
    working time is then no more than its touch."""
    if row.touch_us is None:
        return None
    return min(int(row.touch_us), hours.worked_us(group, row.begin_us, row.end_us))


def _queue_us(row: Any, group: str, hours: GroupHours) -> int | None:
    if row.queue_us is None:
        return None
    return hours.worked_us(group, row.begin_us - row.queue_us, row.begin_us)


def _median_h(values: Sequence[int | None]) -> float | None:
    known = sorted(value / HOUR_US for value in values if value is not None)
    return quantile(known, 0.5) if known else None


def _plan_worked(hours: Sequence[StepHours]) -> float:
    """The planned cycle time in working hours: work as planned, waits by the calendar."""
    return sum((one.touch_plan or 0.0) + (one.queue_plan_worked or 0.0) for one in hours)


def _working_cycle_time(
    lives: list[Any], hours: tuple[tuple[int, int], ...], plan: float
) -> CycleTime:
    """Cycle times counted in working hours only."""
    if not lives:
        return CycleTime(n=0, median=None, mean=None, p90=None, plan=plan)
    values = sorted(
        working_us(hours, row.created_us, row.released_us) / HOUR_US for row in lives
    )
    return CycleTime(
        n=len(values),
        median=quantile(values, 0.5),
        mean=sum(values) / len(values),
        p90=quantile(values, 0.9),
        plan=plan,
    )


def quantile(values: Sequence[float], q: float) -> float:
    """Quantile of sorted values at position (n - 1) q, by linear interpolation."""
    place = (len(values) - 1) * q
    below = int(place)
    above = min(below + 1, len(values) - 1)
    return values[below] + (values[above] - values[below]) * (place - below)


def _promised(
    numbers: WeekNumbers, working: tuple[tuple[int, int], ...], at_us: int
) -> float | None:
    """Pace: target times working time gone over working time of the week."""
    whole = working_us(working, numbers.start_us, numbers.end_us)
    if numbers.target is None or not whole:
        return None
    gone = working_us(working, numbers.start_us, min(at_us, numbers.end_us))
    return numbers.target * gone / whole


def _plan_us(card: RouteCard) -> dict[int, tuple[int, int]]:
    return {
        step.number: (int(step.queue_hours * HOUR_US), int(step.planned_hours * HOUR_US))
        for step in card.steps
    }


def _standing(rows: list[Any], at_us: int, names: dict[int, str]) -> tuple[StepStanding, ...]:
    found = {row.step: row for row in rows}
    return tuple(
        _stand(number, name, found.get(number), at_us) for number, name in sorted(names.items())
    )


def _stand(number: int, name: str, row: Any, at_us: int) -> StepStanding:
    if row is None:
        return StepStanding(
            number=number,
            name=name,
            waiting=0,
            in_work=0,
            held=0,
            over_plan=0,
            oldest_h=None,
            oldest_serial=None,
        )
    in_work = int(row.in_work)
    return StepStanding(
        number=number,
        name=name,
        waiting=row.parts - in_work,
        in_work=in_work,
        held=int(row.held),
        over_plan=int(row.over),
        oldest_h=hours_of(at_us - row.since),
        oldest_serial=row.oldest,
    )


def _reason(row: Any, names: dict[int, str]) -> ScrapReason:
    def step(number: int | None) -> str:
        return f"{number} {names.get(number, '')}".strip() if number is not None else ""

    return ScrapReason(
        defect=row.scrap_defect or "",
        count=row.parts,
        found_at=step(row.found_step),
        caused_at=step(row.caused_step),
    )

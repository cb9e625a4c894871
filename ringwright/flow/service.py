"""The week, read from one snapshot: what the page, the command and the API all show."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ringwright.core.calendar import (
    iso_text,
    week_of,
    week_window,
    working_intervals,
    working_us,
)
from ringwright.core.errors import Missing, Refused
from ringwright.core.proportion import wilson
from ringwright.flow import queries
from ringwright.flow.model import (
    Cohort,
    CycleTime,
    LittlesLaw,
    Proportion,
    ScrapReason,
    StepStanding,
    StepWeek,
    Strip,
    WeekNumbers,
    WeekSheet,
)
from ringwright.flow.queries import HOUR_US, Window
from ringwright.ledger.service import Read, last_entry_us
from ringwright.parts.tables import Visit
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import Revision, in_force, read_revisions
from ringwright.sites.queries import read_calendars

DAY_US = 24 * HOUR_US
WEEK_US = 7 * DAY_US
LAW_WEEKS = 8


def proportion(part: int, n: int) -> Proportion:
    """part ÷ n with its Wilson 95 % interval; nulls when n is 0."""
    if n == 0:
        return Proportion(value=None, low=None, high=None, n=0)
    low, high = wilson(part, n)
    return Proportion(value=part / n, low=low, high=high, n=n)


def week_bounds(read: Read, week: str) -> tuple[int, int]:
    """[start, end) of a site week [us]; raises Refused for what is no ISO week."""
    try:
        return week_window(week, read.site.zone, read.site.week_starts)
    except ValueError as trouble:
        raise Refused(str(trouble)) from None


def moment_of(read: Read) -> int:
    """The instant up to which events count: those booked in this very moment do."""
    return read.now_us if read.as_of_us is not None else read.now_us + 1


def revisions_of(read: Read, product: str) -> list[Revision]:
    """All revisions of a product; raises Missing."""
    revisions = read_revisions(read.connection, read.site.id, product)
    if not revisions:
        raise Missing(f"no product {product!r} at {read.site.name or read.site.code}")
    return revisions


def read_week_numbers(read: Read, product: str, week: str) -> WeekNumbers:
    """Every number of one product and one week. Raises Missing or Refused."""
    start_us, end_us = week_bounds(read, week)
    revisions = revisions_of(read, product)
    card = in_force(revisions, min(end_us - 1, read.now_us)).card
    window = Window(product=product, start_us=start_us, end_us=end_us)
    counts = read.connection.execute(queries.life_counts(read, window)).one()
    steps = _steps(read, window, _all_steps(revisions, card))
    released, scrapped = counts.released, counts.scrapped
    return WeekNumbers(
        product=product,
        week=week,
        start_us=start_us,
        end_us=end_us,
        zone=read.site.zone,
        target=card.target_per_week,
        output=released,
        scrapped=scrapped,
        created=counts.created,
        wip=read_wip(read, product, min(end_us, moment_of(read))),
        cycle_time_h=_cycle_time(read, window, card),
        steps=steps,
        rolled_throughput_yield=_rolled(steps),
        rolled_missing=tuple(step.name for step in steps if not step.first_visits),
        final_yield=proportion(released, released + scrapped),
        cohort=_cohort(read, window),
    )


def read_wip(read: Read, product: str, at_us: int) -> dict[int, int]:
    """Step number to parts at it, at an instant."""
    rows = read.connection.execute(queries.wip_by_step(read, product, at_us))
    return dict(sorted((row.step, row.parts) for row in rows))


def _all_steps(revisions: list[Revision], card: RouteCard) -> list[tuple[int, str]]:
    """The steps of the card in force, then those only other revisions have, by number."""
    names = {step.number: step.name for step in card.steps}
    for revision in revisions:
        for step in revision.card.steps:
            names.setdefault(step.number, step.name)
    return sorted(names.items())


def _steps(
    read: Read, window: Window, listed: Sequence[tuple[int, str]]
) -> tuple[StepWeek, ...]:
    run = read.connection.execute
    counts = {row.step: row for row in run(queries.step_counts(read, window))}
    touch = {
        row.step: row.median for row in run(queries.step_medians(read, window, Visit.touch_us))
    }
    queue = {
        row.step: row.median for row in run(queries.step_medians(read, window, Visit.queue_us))
    }
    return tuple(
        _step(number, name, counts.get(number), touch.get(number), queue.get(number))
        for number, name in listed
    )


def _step(number: int, name: str, row: Any, touch_us: Any, queue_us: Any) -> StepWeek:
    visits, firsts, passes, reworks = (
        (row.visits, row.first_visits, row.first_passes, row.reworks) if row else (0, 0, 0, 0)
    )
    return StepWeek(
        number=number,
        name=name,
        visits=int(visits),
        first_visits=int(firsts),
        first_passes=int(passes),
        first_pass_yield=proportion(int(passes), int(firsts)),
        rework_ratio=int(reworks) / int(visits) if visits else None,
        touch_h_median=_hours(touch_us),
        queue_h_median=_hours(queue_us),
    )


def _hours(duration_us: Any) -> float | None:
    return None if duration_us is None else float(duration_us) / HOUR_US


def _rolled(steps: Sequence[StepWeek]) -> float | None:
    """Product of the first-pass yields over the steps that have a first visit; else None."""
    found = [step.first_pass_yield.value for step in steps]
    values = [value for value in found if value is not None]
    if not values:
        return None
    product = 1.0
    for value in values:
        product *= value
    return product


def _cycle_time(read: Read, window: Window, card: RouteCard) -> CycleTime:
    row = read.connection.execute(queries.cycle_time(read, window)).one()
    if not row.n:
        return CycleTime(n=0, median=None, mean=None, p90=None, plan=card.plan_h)
    return CycleTime(
        n=row.n,
        median=_hours(row.median),
        mean=_hours(row.mean),
        p90=_hours(row.p90),
        plan=card.plan_h,
    )


def _cohort(read: Read, window: Window) -> Cohort:
    row = read.connection.execute(queries.cohort_counts(read, window)).one()
    created, released, scrapped = row.created, int(row.released or 0), int(row.scrapped or 0)
    return Cohort(
        created=created,
        released=released,
        scrapped=scrapped,
        open=created - released - scrapped,
    )


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
    products = [product] if product else _products(read)
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
        strips=tuple(_strip(read, code, week, working) for code in products),
    )


def _products(read: Read) -> list[str]:
    revisions = read_revisions(read.connection, read.site.id)
    return list(dict.fromkeys(row.product for row in revisions))


def _strip(read: Read, product: str, week: str, working: tuple[tuple[int, int], ...]) -> Strip:
    numbers = read_week_numbers(read, product, week)
    window = Window(product=product, start_us=numbers.start_us, end_us=numbers.end_us)
    revisions = revisions_of(read, product)
    card = in_force(revisions, min(window.end_us - 1, read.now_us)).card
    at_us = min(window.end_us, moment_of(read))
    run = read.connection.execute
    names = dict(_all_steps(revisions, card))
    opening = sum(read_wip(read, product, min(window.start_us, at_us)).values())
    return Strip(
        numbers=numbers,
        name=card.name,
        promised_now=_promised(numbers, working, at_us),
        releases_us=tuple(run(queries.release_instants(read, window)).scalars()),
        standing=_standing(read, product, at_us, card, names),
        scrap=tuple(_reason(row, names) for row in run(queries.scrap_reasons(read, window))),
        opening=opening,
        closing=sum(numbers.wip.values()),
        used=run(queries.life_counts(read, window)).one().used,
        cycle_time_working_h=_working_cycle_time(read, window, card),
        law=_law(read, product, at_us),
        restated=bool(run(queries.revoked_releases(read, window)).scalar()),
    )


def _working_cycle_time(read: Read, window: Window, card: RouteCard) -> CycleTime:
    """Cycle times counted in working hours only."""
    lives = read.connection.execute(queries.released_lives(read, window)).all()
    if not lives:
        return CycleTime(n=0, median=None, mean=None, p90=None, plan=card.plan_h)
    calendars = read_calendars(read.connection, read.site.id, None, read.known_before_us)
    first, last = min(row.created_us for row in lives), max(row.released_us for row in lives)
    hours = working_intervals(calendars, first, last, read.site.zone)
    values = sorted(
        working_us(hours, row.created_us, row.released_us) / HOUR_US for row in lives
    )
    return CycleTime(
        n=len(values),
        median=quantile(values, 0.5),
        mean=sum(values) / len(values),
        p90=quantile(values, 0.9),
        plan=card.plan_h,
    )


def quantile(values: Sequence[float], q: float) -> float:
    """Quantile of sorted values at position (n - 1) q, by linear interpolation."""
    place = (len(values) - 1) * q
    below = int(place)
    above = min(below + 1, len(values) - 1)
    return values[below] + (values[above] - values[below]) * (place - below)


def _law(read: Read, product: str, at_us: int) -> LittlesLaw:
    """Little's law over the last weeks, exact at both ends.

    Over a finite window the identity holds when each exit's time is counted within the window
    and the parts still there are added in; the whole time of the exits is what is compared.
    """
    window = Window(product=product, start_us=at_us - LAW_WEEKS * WEEK_US, end_us=at_us)
    row = read.connection.execute(queries.time_in_cell(read, window)).one()
    exits = int(row.exits or 0)
    if not exits:
        return LittlesLaw(weeks=LAW_WEEKS, mean_wip=None, exits_per_day=None, mean_days=None)
    span_us = window.end_us - window.start_us
    return LittlesLaw(
        weeks=LAW_WEEKS,
        mean_wip=float(row.part_time) / span_us,
        exits_per_day=exits / (span_us / DAY_US),
        mean_days=float(row.exit_time) / exits / DAY_US,
    )


def _promised(
    numbers: WeekNumbers, working: tuple[tuple[int, int], ...], at_us: int
) -> float | None:
    """Pace: target times working time gone over working time of the week."""
    whole = working_us(working, numbers.start_us, numbers.end_us)
    if numbers.target is None or not whole:
        return None
    gone = working_us(working, numbers.start_us, min(at_us, numbers.end_us))
    return numbers.target * gone / whole


def _standing(
    read: Read, product: str, at_us: int, card: RouteCard, names: dict[int, str]
) -> tuple[StepStanding, ...]:
    plan = {
        step.number: (int(step.queue_hours * HOUR_US), int(step.planned_hours * HOUR_US))
        for step in card.steps
    }
    rows = read.connection.execute(queries.standing_by_step(read, product, at_us, plan))
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
        oldest_h=_hours(at_us - row.since),
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


def week_json(numbers: WeekNumbers) -> dict[str, Any]:
    """The numbers with the names and units of `week --json` and the API."""
    return {
        "product": numbers.product,
        "week": numbers.week,
        "from": iso_text(numbers.start_us, numbers.zone),
        "to": iso_text(numbers.end_us, numbers.zone),
        "target": numbers.target,
        "output": numbers.output,
        "scrapped": numbers.scrapped,
        "created": numbers.created,
        "wip": {str(step): parts for step, parts in numbers.wip.items()},
        "cycle_time_h": _plain(numbers.cycle_time_h),
        "steps": [
            {**_plain(step), "first_pass_yield": _plain(step.first_pass_yield)}
            for step in numbers.steps
        ],
        "rolled_throughput_yield": numbers.rolled_throughput_yield,
        "final_yield": _plain(numbers.final_yield),
        "cohort": _plain(numbers.cohort),
    }


def _plain(row: Any) -> dict[str, Any]:
    return {name: getattr(row, name) for name in row.__dataclass_fields__}

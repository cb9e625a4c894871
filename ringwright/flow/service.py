"""The week's numbers, read from one snapshot: what page, command and API all show."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from ringwright.core.calendar import iso_text, week_window
from ringwright.core.errors import Missing, Refused
from ringwright.core.proportion import wilson
from ringwright.flow import queries
from ringwright.flow.model import (
    Cohort,
    CycleTime,
    Proportion,
    StepWeek,
    WeekNumbers,
)
from ringwright.flow.queries import HOUR_US, Window
from ringwright.ledger.service import Read
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import Revision, in_force, read_revisions

Routes = dict[str, list[Revision]]
"""Product to its revisions."""


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
    window = Window(products=(product,), start_us=start_us, end_us=end_us)
    routes = {product: revisions_of(read, product)}
    return read_numbers(read, week, window, routes)[product]


def read_numbers(
    read: Read, week: str, window: Window, routes: Routes
) -> dict[str, WeekNumbers]:
    """The numbers of the window's products, each asked of the store once for all of them."""
    run = read.connection.execute
    counts = {
        (row.product, row.moment): row.parts for row in run(queries.life_counts(read, window))
    }
    cycle = by_product(run(queries.cycle_time(read, window)))
    cohort = by_product(run(queries.cohort_counts(read, window)))
    wip = read_wips(read, window.products, min(window.end_us, moment_of(read)))
    visits = _visits(read, window)
    found = {}
    for product, revisions in routes.items():
        card = card_of(revisions, read, window)
        steps = _steps(visits.get(product, {}), steps_of(revisions, card))
        lives = {moment: counts.get((product, moment), 0) for moment in queries.MOMENTS}
        found[product] = WeekNumbers(
            product=product,
            week=week,
            start_us=window.start_us,
            end_us=window.end_us,
            zone=read.site.zone,
            target=card.target_per_week,
            output=lives["released"],
            scrapped=lives["scrapped"],
            created=lives["created"],
            used=lives["used"],
            wip=wip.get(product, {}),
            cycle_time_h=_cycle_time(cycle.get(product), card),
            steps=steps,
            rolled_throughput_yield=_rolled(steps),
            rolled_missing=tuple(step.name for step in steps if not step.first_visits),
            final_yield=proportion(lives["released"], lives["released"] + lives["scrapped"]),
            cohort=_cohort(cohort.get(product)),
        )
    return found


def by_product(rows: Iterable[Any]) -> dict[str, Any]:
    """The one row of each product that has any."""
    return {row.product: row for row in rows}


def grouped(rows: Iterable[Any]) -> dict[str, list[Any]]:
    """Rows by product, in their order."""
    found: dict[str, list[Any]] = {}
    for row in rows:
        found.setdefault(row.product, []).append(row)
    return found


def card_of(revisions: list[Revision], read: Read, window: Window) -> RouteCard:
    """The route card in force at the end of the window, or now if earlier."""
    return in_force(revisions, min(window.end_us - 1, read.now_us)).card


def read_wip(read: Read, product: str, at_us: int) -> dict[int, int]:
    """Step number to parts at it, at an instant."""
    return read_wips(read, (product,), at_us).get(product, {})


def read_wips(read: Read, products: tuple[str, ...], at_us: int) -> dict[str, dict[int, int]]:
    """Product and step number to parts at it, at an instant."""
    rows = read.connection.execute(queries.wip_by_step(read, products, at_us))
    return {
        product: dict(sorted((row.step, row.parts) for row in some))
        for product, some in grouped(rows).items()
    }


def steps_of(revisions: list[Revision], card: RouteCard) -> list[tuple[int, str]]:
    """The steps of the card in force, then those only other revisions have, by number."""
    names = {step.number: step.name for step in card.steps}
    for revision in revisions:
        for step in revision.card.steps:
            names.setdefault(step.number, step.name)
    return sorted(names.items())


def _visits(read: Read, window: Window) -> dict[str, dict[int, tuple[Any, Any]]]:
    """Product and step to the counts and medians of the visits ended in the window."""
    run = read.connection.execute
    medians = {(row.product, row.step): row for row in run(queries.step_medians(read, window))}
    found: dict[str, dict[int, tuple[Any, Any]]] = {}
    for row in run(queries.step_counts(read, window)):
        found.setdefault(row.product, {})[row.step] = (row, medians[row.product, row.step])
    return found


def _steps(
    visits: dict[int, tuple[Any, Any]], listed: Sequence[tuple[int, str]]
) -> tuple[StepWeek, ...]:
    return tuple(
        _step(number, name, *visits.get(number, (None, None))) for number, name in listed
    )


def _step(number: int, name: str, row: Any, medians: Any) -> StepWeek:
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
        touch_h_median=hours_of(medians.touch) if medians else None,
        queue_h_median=hours_of(medians.queue) if medians else None,
    )


def hours_of(duration_us: Any) -> float | None:
    """Microseconds as hours."""
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


def _cycle_time(row: Any, card: RouteCard) -> CycleTime:
    if row is None:
        return CycleTime(n=0, median=None, mean=None, p90=None, plan=card.plan_h)
    return CycleTime(
        n=row.n,
        median=hours_of(row.median),
        mean=hours_of(row.mean),
        p90=hours_of(row.p90),
        plan=card.plan_h,
    )


def _cohort(row: Any) -> Cohort:
    if row is None:
        return Cohort(created=0, released=0, scrapped=0, open=0)
    created, released, scrapped = row.created, int(row.released), int(row.scrapped)
    return Cohort(
        created=created,
        released=released,
        scrapped=scrapped,
        open=created - released - scrapped,
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

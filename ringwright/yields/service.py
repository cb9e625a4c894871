"""The yields, read from one snapshot: what the page, its files and the API all show."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from ringwright.core.calendar import shifts_between, week_before, week_of, week_window
from ringwright.core.errors import Missing, Refused
from ringwright.flow.account import read_account
from ringwright.flow.loads import load_code, load_steps, loads_of, parse_load
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Read
from ringwright.parts.outline import outline_of
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import Revision, in_force, read_revisions
from ringwright.sites.queries import read_calendars
from ringwright.yields import queries
from ringwright.yields.grouping import Asked, Weekly, read_groups
from ringwright.yields.model import (
    DIMENSIONS,
    REWORK,
    SCRAP,
    Cohort,
    LeftOut,
    Question,
    StepYield,
    WorstLoad,
    YieldSheet,
)
from ringwright.yields.rules import NO_SHARE, rolled, share
from ringwright.yields.scope import Scope, Span
from ringwright.yields.tally import (
    Counts,
    LoadCounts,
    LoadKey,
    StepTally,
    chained,
    reasons_of,
    rework_rows,
    tally_loads,
    tally_steps,
    trend_of,
    worst_load,
    yields_of_loads,
)

USUAL_WEEKS: Final = 8
"""Whole weeks looked at unless others are asked for, and those they are compared with."""
MOST_WEEKS: Final = 53
YIELDS: Final = Remembered[YieldSheet]()


class NoProduct(Missing):
    """There is nothing to ask about yet."""


def known_yield(read: Read, question: Question) -> YieldSheet:
    """The same as `read_yield`, not worked out again while nothing has changed."""
    return YIELDS.answer(read, question, lambda: read_yield(read, question))


def read_yield(read: Read, question: Question) -> YieldSheet:
    """Everything about the yields of one product and window. Raises Missing or Refused."""
    revisions = read_revisions(read.connection, read.site.id)
    products = tuple(dict.fromkeys(row.product for row in revisions))
    if not products and question.product is None:
        raise NoProduct("No product has a route card yet.")
    product = question.product or products[0]
    if product not in products:
        raise Missing(f"no product {product!r} at {read.site.name or read.site.code}")
    own = [row for row in revisions if row.product == product]
    plan = _plan(read, question, own)
    scope = _scope(read, question, product)
    scope, left_out = _leave_out(read, question, scope)
    in_loads = frozenset(
        (row.product, number) for row in revisions for number in load_steps(row.card)
    )
    return _sheet(read, question, _Frame(scope, plan, left_out, products, in_loads))


def read_scope(read: Read, question: Question, product: str) -> Scope:
    """What the answer of a question counts: for what a page asks besides."""
    return _leave_out(read, question, _scope(read, question, product))[0]


@dataclass(frozen=True)
class _Plan:
    """The steps of a route in its order, with those worked in loads."""

    card: RouteCard
    steps: tuple[tuple[int, str], ...]
    in_loads: frozenset[int]


@dataclass(frozen=True)
class _Frame:
    scope: Scope
    plan: _Plan
    left_out: LeftOut | None
    products: tuple[str, ...]
    in_loads: frozenset[tuple[str, int]]
    """(product, step) of all products."""


def _plan(read: Read, question: Question, revisions: list[Revision]) -> _Plan:
    _, end_us = _window(read, *_ends(read, question))
    card = in_force(revisions, min(end_us - 1, read.now_us)).card
    names = {step.number: step.name for step in card.steps}
    in_loads = set(load_steps(card))
    for revision in revisions:
        for step in revision.card.steps:
            if step.number not in names:
                names[step.number] = step.name
                in_loads |= load_steps(revision.card) & {step.number}
    if question.step is not None and question.step not in names:
        raise Missing(f"{card.product} has no step {question.step}")
    return _Plan(card, tuple(sorted(names.items())), frozenset(in_loads))


def _ends(read: Read, question: Question) -> tuple[str, str]:
    """First and last week of the window: the last whole weeks unless others are asked for."""
    site = read.site
    whole = week_before(week_of(read.now_us, site.zone, site.week_starts))
    last = question.last or max(whole, question.first or "")
    return question.first or week_before(last, USUAL_WEEKS - 1), last


def _window(read: Read, first: str, last: str) -> tuple[int, int]:
    site = read.site
    start_us, _ = week_window(first, site.zone, site.week_starts)
    _, end_us = week_window(last, site.zone, site.week_starts)
    if start_us >= end_us:
        raise Refused(
            f"week {last} ends before week {first} begins; give the earlier one first"
        )
    return start_us, end_us


def _scope(read: Read, question: Question, product: str) -> Scope:
    site = read.site
    first, last = _ends(read, question)
    names = _week_names(first, last)
    before = [week_before(first, back) for back in range(USUAL_WEEKS, 0, -1)]
    weeks: list[Span] = []
    for name in (*before, *names):
        start_us, end_us = week_window(name, site.zone, site.week_starts)
        weeks.append((start_us, end_us, name))
    by = _dimension(question)
    shifts: tuple[Span, ...] = ()
    if question.shift is not None or by == "shift":
        calendars = read_calendars(read.connection, site.id, None, read.known_before_us)
        shifts = shifts_between(calendars, weeks[0][0], weeks[-1][1], site.zone)
    return Scope(
        product=product,
        weeks=tuple(weeks),
        start_us=weeks[USUAL_WEEKS][0],
        lot=question.lot,
        station=question.station,
        revision=question.revision,
        shifts=shifts,
        shift=question.shift,
    )


def _week_names(first: str, last: str) -> list[str]:
    names = [first]
    while names[-1] != last:
        names.append(week_before(names[-1], -1))
        if len(names) > MOST_WEEKS:
            raise Refused(f"at most {MOST_WEEKS} weeks at once; these are more")
    return names


def _dimension(question: Question) -> str:
    by = question.by or DIMENSIONS[0]
    if by not in DIMENSIONS:
        raise Refused(f"yields are told apart by {', '.join(DIMENSIONS)}, not by {by[:40]!r}")
    if question.what not in (None, SCRAP, REWORK):
        raise Refused(f"reasons are those of {SCRAP} or of {REWORK}")
    return by


def _leave_out(read: Read, question: Question, scope: Scope) -> tuple[Scope, LeftOut | None]:
    """The scope without the parts of the load that is to be left out."""
    if not question.without:
        return scope, None
    station, begin_us = parse_load(question.without, read.site.zone)
    rows = read.connection.execute(queries.load_around(read, scope, station, begin_us))
    loads = [load for load in loads_of(rows) if load.begin_us == begin_us]
    serials = tuple(sorted({serial for load in loads for serial in load.serials}))
    if not serials:
        raise Missing(f"no load of {scope.product} began as {question.without[:80]!r} says")
    left_out = LeftOut(
        code=load_code(station, begin_us, read.site.zone),
        step=loads[0].step if len(loads) == 1 else None,
        station=station,
        begin_us=begin_us,
        parts=len(serials),
    )
    return replace(scope, without=serials), left_out


def _sheet(read: Read, question: Question, frame: _Frame) -> YieldSheet:
    scope, plan, run = frame.scope, frame.plan, read.connection.execute
    outline = outline_of(plan.card.family)
    load_rows = chained(run(queries.loads_by_week(read, scope, plan.in_loads)))
    visits = run(queries.visits_by_week(read, scope)).all()
    tallies = tally_steps(visits, load_rows, USUAL_WEEKS)
    steps = _steps(plan, tallies, scope)
    exits = _by_week(run(queries.exits_by_week(read, scope)))
    cohorts = {
        row.key: Cohort(
            created=row.created, released=int(row.released), scrapped=int(row.scrapped)
        )
        for row in run(queries.cohort_by_week(read, scope))
    }
    scrap = reasons_of(SCRAP, run(queries.scrap_groups(read, scope)).all(), outline)
    sentenced = run(queries.sentenced_reworks(read, scope))
    reworked = reasons_of(REWORK, rework_rows(visits, sentenced, USUAL_WEEKS), outline)
    loads = tally_loads(load_rows, USUAL_WEEKS)
    weekly = Weekly(tallies=tallies, exits=exits, cohorts=cohorts)
    asked = Asked(
        scope=scope,
        by=_dimension(question),
        step=question.step,
        in_loads=frame.in_loads,
        products=frame.products,
    )
    released, scrapped = _exits_in_window(exits)
    names = [name for _, _, name in scope.weeks]
    return YieldSheet(
        question=question,
        site=read.site.code,
        site_name=read.site.name,
        zone=read.site.zone,
        product=plan.card.product,
        name=plan.card.name,
        family=plan.card.family,
        products=frame.products,
        weeks=tuple(names[USUAL_WEEKS:]),
        start_us=scope.start_us,
        end_us=scope.end_us,
        now_us=read.now_us,
        as_of=read.as_of_us is not None,
        running=read.now_us < scope.end_us,
        head_seq=read.head_seq,
        head_hash=read.head_hash,
        steps=steps,
        rolled=rolled(step.first_pass.value for step in steps),
        rolled_missing=tuple(step.name for step in steps if not step.first_visits),
        final=share(released, released + scrapped),
        final_trend=_final_trend(names, exits),
        released=released,
        scrapped=scrapped,
        cohort=_whole(cohorts.values()),
        scrap=scrap,
        reworked=reworked,
        worst=_worst(read, scrap.by_caused, loads, tallies),
        by=_dimension(question),
        groups=read_groups(read, asked, weekly),
        loads=yields_of_loads(load_rows, question.step, USUAL_WEEKS),
        left_out=frame.left_out,
        account=read_account(read, plan.card.product, scope.start_us, scope.end_us),
    )


def _steps(plan: _Plan, tallies: dict[int, StepTally], scope: Scope) -> tuple[StepYield, ...]:
    names = [name for _, _, name in scope.weeks]
    first = tallies.get(plan.card.first, StepTally()).window.firsts
    found: list[StepYield] = []
    so_far: list[float | None] = []
    for number, name in plan.steps:
        tally, in_loads = tallies.get(number, StepTally()), number in plan.in_loads
        counts, before = tally.window, tally.before.first_pass(in_loads)
        shares = [
            tally.weeks.get(place, Counts()).first_pass(in_loads) for place in range(len(names))
        ]
        now = counts.first_pass(in_loads)
        so_far.append(now.value)
        found.append(
            StepYield(
                number=number,
                name=name,
                in_loads=in_loads,
                visits=counts.visits,
                first_visits=counts.firsts,
                first_passes=counts.passes,
                first_pass=now,
                rework=counts.rework(in_loads),
                scrap=counts.scrap(in_loads),
                fall_off=counts.scraps / first if first else None,
                rolled=rolled(so_far),
                trend=trend_of(names, shares, before, now, USUAL_WEEKS),
            )
        )
    return tuple(found)


def _by_week(rows: Any) -> dict[int, tuple[int, int]]:
    """Week to (released, scrapped)."""
    found: dict[int, tuple[int, int]] = {}
    for row in rows:
        released, scrapped = found.get(row.key, (0, 0))
        if row.kind == "released":
            found[row.key] = (row.n, scrapped)
        else:
            found[row.key] = (released, row.n)
    return found


def _exits_in_window(exits: dict[int, tuple[int, int]]) -> tuple[int, int]:
    return _sum(exits, range(USUAL_WEEKS, USUAL_WEEKS + MOST_WEEKS))


def _sum(exits: dict[int, tuple[int, int]], weeks: range) -> tuple[int, int]:
    own = [pair for week, pair in exits.items() if week in weeks]
    return sum(pair[0] for pair in own), sum(pair[1] for pair in own)


def _final_trend(names: list[str], exits: dict[int, tuple[int, int]]) -> Any:
    shares = []
    for place in range(len(names)):
        released, scrapped = exits.get(place, (0, 0))
        shares.append(share(released, released + scrapped))
    released, scrapped = _sum(exits, range(USUAL_WEEKS))
    now_released, now_scrapped = _exits_in_window(exits)
    before = share(released, released + scrapped)
    now = share(now_released, now_released + now_scrapped)
    return trend_of(names, shares, before, now, USUAL_WEEKS)


def _whole(cohorts: Any) -> Cohort:
    own = list(cohorts)
    return Cohort(
        created=sum(cohort.created for cohort in own),
        released=sum(cohort.released for cohort in own),
        scrapped=sum(cohort.scrapped for cohort in own),
    )


def _worst(
    read: Read,
    by_caused: tuple[tuple[int | None, int], ...],
    loads: dict[LoadKey, LoadCounts],
    tallies: dict[int, StepTally],
) -> WorstLoad | None:
    """The worst load of the step that causes most scrap."""
    step = next((number for number, _ in by_caused if number is not None), None)
    key = None if step is None else worst_load(loads, step)
    if step is None or key is None:
        return None
    load, whole = loads[key], tallies[step].window
    firsts = whole.firsts - load.firsts
    others = whole.first_loads - (1 if load.firsts else 0)
    return WorstLoad(
        step=step,
        station=key[1],
        begin_us=key[2],
        code=load_code(key[1], key[2], read.site.zone),
        lost=load.lost,
        lost_here=load.lost_here,
        first_pass_without=share(whole.passes - load.passes, firsts, others)
        if firsts
        else NO_SHARE,
    )

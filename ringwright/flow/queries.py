"""Numbers of the week as SELECTs over projections, portable to both stores.

Every statement takes the snapshot's knowledge into account: rows believed as of T, and moments
inside a row (the end of a visit) only when they were known by then. Definitions: DEVELOPERS.md,
"The numbers"; each docstring states its rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, case, distinct, func, or_, select

from ringwright.db import FOREVER_US
from ringwright.ledger.service import Read
from ringwright.parts.tables import Hold, Life, Tracked, Visit

HOUR_US = 3_600_000_000

Sql = Select[*tuple[Any, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A half-open span of time [us) for one product."""

    product: str
    start_us: int
    end_us: int


def believed(read: Read, table: type[Tracked]) -> ColumnElement[bool]:
    """Rows of the site that were believed as of the snapshot's moment."""
    known = read.known_before_us
    condition = table.known_to_us >= known
    if known != FOREVER_US:
        condition = and_(condition, table.known_from_us < known)
    return and_(table.site_id == read.site.id, condition)


def _instant(read: Read, instant: Any, known_us: Any) -> ColumnElement[int]:
    """A moment of a row, or the end of time when it was not known yet."""
    if read.as_of_us is None:
        return instant  # type: ignore[no-any-return]
    return case((known_us < read.known_before_us, instant), else_=FOREVER_US)


def _within(instant: Any, known_us: Any, window: Window, read: Read) -> ColumnElement[bool]:
    inside = and_(instant >= window.start_us, instant < window.end_us)
    if read.as_of_us is None:
        return inside
    return and_(inside, known_us < read.known_before_us)


def life_counts(read: Read, window: Window) -> Sql:
    """Output: distinct serials released in the window. Scrapped and created: likewise."""
    released = _within(Life.released_us, Life.released_known_us, window, read)
    scrapped = _within(Life.scrapped_us, Life.scrapped_known_us, window, read)
    created = _within(Life.created_us, Life.created_known_us, window, read)
    used = _within(Life.used_us, Life.used_known_us, window, read)
    return select(
        func.count(distinct(case((released, Life.serial)))).label("released"),
        func.count(distinct(case((scrapped, Life.serial)))).label("scrapped"),
        func.count(distinct(case((created, Life.serial)))).label("created"),
        func.count(distinct(case((used, Life.serial)))).label("used"),
    ).where(
        believed(read, Life),
        Life.product == window.product,
        or_(released, scrapped, created, used),
    )


def cohort_counts(read: Read, window: Window) -> Sql:
    """Parts created in the window and what became of them as of now."""
    known = read.known_before_us
    released = and_(Life.released_us.is_not(None), Life.released_known_us < known)
    scrapped = and_(Life.scrapped_us.is_not(None), Life.scrapped_known_us < known)
    return select(
        func.count().label("created"),
        func.sum(case((released, 1), else_=0)).label("released"),
        func.sum(case((scrapped, 1), else_=0)).label("scrapped"),
    ).where(
        believed(read, Life),
        Life.product == window.product,
        _within(Life.created_us, Life.created_known_us, window, read),
    )


class _At:
    """Where each part stands at an instant, as expressions over its visits.

    Parts created and neither released nor scrapped stand at the step they are in work at, else
    at the step they wait for; events before the instant count, not those at it.
    """

    def __init__(self, read: Read, product: str, at_us: int) -> None:
        self.begin = _instant(read, Visit.begin_us, Visit.begin_known_us)
        end = _instant(read, Visit.end_us, Visit.end_known_us)
        leave = _instant(read, Visit.leave_us, Visit.leave_known_us)
        self.in_work = end >= at_us
        self.step = case((self.in_work, Visit.step), else_=Visit.next_step)
        self.since = case((self.in_work, self.begin), else_=end)
        self.there = (
            believed(read, Visit),
            believed(read, Life),
            Life.product == product,
            self.begin < at_us,
            leave >= at_us,
            self.step.is_not(None),
        )

    def parts(self, *columns: Any) -> Sql:
        """These columns of every part that stands somewhere."""
        return _visits(*columns).where(*self.there)


def wip_by_step(read: Read, product: str, at_us: int) -> Sql:
    """WIP(t): parts created, neither released nor scrapped at t, at the step they are in work
    at, else at the step they wait for; events before t count, not those at it."""
    at = _At(read, product, at_us)
    return at.parts(at.step.label("step"), func.count().label("parts")).group_by(at.step)


def _ended(read: Read, window: Window) -> list[ColumnElement[bool]]:
    """Visits of the product that ended in the window."""
    return [
        believed(read, Visit),
        believed(read, Life),
        Life.product == window.product,
        Visit.step.is_not(None),
        _within(Visit.end_us, Visit.end_known_us, window, read),
    ]


def _visits(*columns: Any) -> Sql:
    return select(*columns).join(
        Life, and_(Life.site_id == Visit.site_id, Life.serial == Visit.serial)
    )


def step_counts(read: Read, window: Window) -> Sql:
    """First-pass yield: first visits ended in the window with outcome pass ÷ first visits ended
    in the window. Rework ratio: visits ended in rework or repair ÷ visits ended."""
    first_pass = and_(Visit.first, Visit.outcome == "pass")
    return (
        _visits(
            Visit.step,
            func.count().label("visits"),
            func.sum(case((Visit.first, 1), else_=0)).label("first_visits"),
            func.sum(case((first_pass, 1), else_=0)).label("first_passes"),
            func.sum(case((Visit.outcome.in_(("rework", "repair")), 1), else_=0)).label(
                "reworks"
            ),
        )
        .where(*_ended(read, window))
        .group_by(Visit.step)
    )


def step_medians(read: Read, window: Window, column: Any) -> Sql:
    """The median of a duration by step [us], over visits ended in the window."""
    ranked = (
        _visits(
            Visit.step.label("step"),
            column.label("value"),
            (func.row_number().over(partition_by=Visit.step, order_by=column) - 1).label("k"),
            func.count().over(partition_by=Visit.step).label("n"),
        )
        .where(*_ended(read, window))
        .subquery()
    )
    return select(ranked.c.step, _quantile(ranked, 0.5).label("median")).group_by(ranked.c.step)


def _quantile(ranked: Any, q: float) -> ColumnElement[float]:
    """Quantile by linear interpolation: position (n - 1) q of the values sorted from 0."""
    distance = func.abs(ranked.c.k - (ranked.c.n - 1) * q)
    return func.sum(ranked.c.value * case((distance < 1, 1.0 - distance), else_=0.0))


def cycle_time(read: Read, window: Window) -> Sql:
    """Cycle time [us] of the parts released in the window: release less creation."""
    value = Life.released_us - Life.created_us
    ranked = (
        select(
            value.label("value"),
            (func.row_number().over(order_by=value) - 1).label("k"),
            func.count().over().label("n"),
        )
        .where(
            believed(read, Life),
            Life.product == window.product,
            _within(Life.released_us, Life.released_known_us, window, read),
        )
        .subquery()
    )
    return select(
        func.count().label("n"),
        func.avg(ranked.c.value * 1.0).label("mean"),
        _quantile(ranked, 0.5).label("median"),
        _quantile(ranked, 0.9).label("p90"),
    )


def released_lives(read: Read, window: Window) -> Sql:
    """Creation and release of the parts released in the window [us]."""
    return select(Life.created_us, Life.released_us).where(
        believed(read, Life),
        Life.product == window.product,
        _within(Life.released_us, Life.released_known_us, window, read),
    )


def time_in_cell(read: Read, window: Window) -> Sql:
    """For Little's law: part-time spent in the cell within the window, and the exits in it with
    their whole time in the cell [us]. A part leaves by release, scrap or use."""
    known = read.known_before_us
    never = FOREVER_US

    def left(instant: Any, known_us: Any) -> Any:
        return case((and_(instant.is_not(None), known_us < known), instant), else_=never)

    released = left(Life.released_us, Life.released_known_us)
    scrapped = left(Life.scrapped_us, Life.scrapped_known_us)
    used = left(Life.used_us, Life.used_known_us)
    first = case((released < scrapped, released), else_=scrapped)
    lives = (
        select(
            Life.created_us.label("came"), case((first < used, first), else_=used).label("left")
        )
        .where(believed(read, Life), Life.product == window.product)
        .subquery()
    )
    came, gone = lives.c.came, lives.c.left
    start = case((came > window.start_us, came), else_=window.start_us)
    end = case((gone < window.end_us, gone), else_=window.end_us)
    exits = and_(gone >= window.start_us, gone < window.end_us)
    return select(
        func.sum((end - start) * 1.0).label("part_time"),
        func.sum(case((exits, 1), else_=0)).label("exits"),
        func.sum(case((exits, (gone - came) * 1.0), else_=0.0)).label("exit_time"),
    ).where(came < window.end_us, gone >= window.start_us)


def release_instants(read: Read, window: Window) -> Sql:
    """Instants of release in the window, ascending."""
    return (
        select(Life.released_us)
        .where(
            believed(read, Life),
            Life.product == window.product,
            _within(Life.released_us, Life.released_known_us, window, read),
        )
        .order_by(Life.released_us, Life.serial)
    )


def scrap_reasons(read: Read, window: Window) -> Sql:
    """Parts scrapped in the window by defect, step that found it, step that caused it."""
    columns = (Life.scrap_defect, Life.found_step, Life.caused_step)
    return (
        select(*columns, func.count().label("parts"))
        .where(
            believed(read, Life),
            Life.product == window.product,
            _within(Life.scrapped_us, Life.scrapped_known_us, window, read),
        )
        .group_by(*columns)
        .order_by(func.count().desc(), *columns)
    )


def revoked_releases(read: Read, window: Window) -> Sql:
    """How many releases once counted in the window are believed no more."""
    now = Life.__table__.alias("life_now")
    known = read.known_before_us
    return (
        select(func.count(distinct(Life.serial)))
        .join(now, and_(now.c.site_id == Life.site_id, now.c.serial == Life.serial))
        .where(
            Life.site_id == read.site.id,
            Life.product == window.product,
            Life.known_to_us < known,
            Life.released_us >= window.start_us,
            Life.released_us < window.end_us,
            now.c.known_from_us < known,
            now.c.known_to_us >= known,
            or_(now.c.released_us.is_(None), now.c.released_us != Life.released_us),
        )
    )


def standing_by_step(
    read: Read, product: str, at_us: int, plan_us: dict[int, tuple[int, int]]
) -> Sql:
    """Parts at each step at an instant: waiting, in work, held, over plan, the oldest.

    `plan_us`: step to (planned queue, planned work) [us]; a part is over plan when it has been
    at the step for longer than that.
    """
    at = _At(read, product, at_us)
    queue = {number: plan[0] for number, plan in plan_us.items()}
    work = {number: plan[1] for number, plan in plan_us.items()}
    allowed = case(
        (at.in_work, case(work, value=at.step, else_=FOREVER_US)),
        else_=case(queue, value=at.step, else_=FOREVER_US),
    )
    by_age = func.row_number().over(partition_by=at.step, order_by=(at.since, Visit.serial))
    standing = at.parts(
        Visit.serial,
        at.step.label("step"),
        case((at.in_work, 1), else_=0).label("in_work"),
        at.since.label("since"),
        case((_held(read, at_us), 1), else_=0).label("held"),
        case((at_us - at.since > allowed, 1), else_=0).label("over"),
        by_age.label("age"),
    ).subquery()
    oldest = case((standing.c.age == 1, standing.c.serial))
    return select(
        standing.c.step,
        func.count().label("parts"),
        func.sum(standing.c.in_work).label("in_work"),
        func.sum(standing.c.held).label("held"),
        func.sum(standing.c.over).label("over"),
        func.min(standing.c.since).label("since"),
        func.max(oldest).label("oldest"),
    ).group_by(standing.c.step)


def _held(read: Read, at_us: int) -> ColumnElement[bool]:
    """True for a visit's part that is on hold at an instant."""
    return (
        select(Hold.serial)
        .where(
            believed(read, Hold),
            Hold.serial == Visit.serial,
            _instant(read, Hold.from_us, Hold.from_known_us) < at_us,
            _instant(read, Hold.to_us, Hold.to_known_us) >= at_us,
        )
        .exists()
    )

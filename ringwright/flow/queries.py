"""Numbers of the week as SELECTs over projections, portable to both stores.

Every statement takes the snapshot's knowledge into account: rows believed as of T, and moments
inside a row (the end of a visit) only when they were known by then. Definitions: DEVELOPERS.md,
"The numbers"; each docstring states its rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Select,
    and_,
    case,
    distinct,
    func,
    literal,
    or_,
    select,
    union_all,
)

from ringwright.db import FOREVER_US
from ringwright.ledger.service import Read
from ringwright.parts.tables import Hold, Life, Tracked, Visit

HOUR_US = 3_600_000_000

Sql = Select[*tuple[Any, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A half-open span of time [us) for some products; rows then say of which they speak."""

    products: tuple[str, ...]
    start_us: int
    end_us: int


def believed(read: Read, table: type[Tracked]) -> ColumnElement[bool]:
    """Rows of the site that were believed as of the snapshot's moment."""
    known = read.known_before_us
    condition = table.known_to_us >= known
    if known != FOREVER_US:
        condition = and_(condition, table.known_from_us < known)
    return and_(table.site_id == read.site.id, condition)


def instant_then(read: Read, instant: Any, known_us: Any) -> ColumnElement[int]:
    """A moment of a row, or the end of time when it was not known yet."""
    if read.as_of_us is None:
        return instant  # type: ignore[no-any-return]
    return case((known_us < read.known_before_us, instant), else_=FOREVER_US)


def _within(instant: Any, known_us: Any, window: Window, read: Read) -> ColumnElement[bool]:
    inside = and_(instant >= window.start_us, instant < window.end_us)
    if read.as_of_us is None:
        return inside
    return and_(inside, known_us < read.known_before_us)


MOMENTS = {
    "released": (Life.released_us, Life.released_known_us),
    "scrapped": (Life.scrapped_us, Life.scrapped_known_us),
    "created": (Life.created_us, Life.created_known_us),
    "used": (Life.used_us, Life.used_known_us),
}
"""The moments of a life that are counted, and when each was known."""


def life_counts(read: Read, window: Window) -> Any:
    """Output: distinct serials released in the window. Scrapped and created: likewise."""
    # One arm for each moment, so that each finds its rows by its own index.
    return union_all(
        *(
            select(
                Life.product,
                literal(moment).label("moment"),
                func.count(distinct(Life.serial)).label("parts"),
            )
            .where(
                believed(read, Life),
                Life.product.in_(window.products),
                _within(*columns, window, read),
            )
            .group_by(Life.product)
            for moment, columns in MOMENTS.items()
        )
    )


def cohort_counts(read: Read, window: Window) -> Sql:
    """Parts created in the window and what became of them as of now."""
    known = read.known_before_us
    released = and_(Life.released_us.is_not(None), Life.released_known_us < known)
    scrapped = and_(Life.scrapped_us.is_not(None), Life.scrapped_known_us < known)
    return (
        select(
            Life.product,
            func.count().label("created"),
            func.sum(case((released, 1), else_=0)).label("released"),
            func.sum(case((scrapped, 1), else_=0)).label("scrapped"),
        )
        .where(
            believed(read, Life),
            Life.product.in_(window.products),
            _within(Life.created_us, Life.created_known_us, window, read),
        )
        .group_by(Life.product)
    )


def there_at(read: Read, at_us: int) -> ColumnElement[bool]:
    """Visits that had begun before an instant and were not left by then: each part in the cell
    has one, and no part that is gone. Events before the instant count, not those at it."""
    begun = instant_then(read, Visit.begin_us, Visit.begin_known_us) < at_us
    stays = Visit.leave_us >= at_us
    if read.as_of_us is None:
        return and_(begun, stays)
    # Left by then, but nobody knew: few rows, and an index holds just those told late.
    untold = and_(
        Visit.leave_known_us > Visit.leave_us,
        Visit.leave_known_us >= read.known_before_us,
        Visit.leave_us < at_us,
    )
    return and_(begun, or_(stays, untold))


class At:
    """Where each part stands at an instant, as expressions over its visits.

    Parts created and neither released nor scrapped stand at the step they are in work at, else
    at the step they wait for.
    """

    def __init__(self, read: Read, products: tuple[str, ...], at_us: int) -> None:
        begin = instant_then(read, Visit.begin_us, Visit.begin_known_us)
        end = instant_then(read, Visit.end_us, Visit.end_known_us)
        self.in_work = end >= at_us
        self.step = case((self.in_work, Visit.step), else_=Visit.next_step)
        self.since = case((self.in_work, begin), else_=end)
        arrived = begin - func.coalesce(Visit.queue_us, 0)
        self.arrived = case((self.in_work, arrived), else_=end)
        """Since when it stands at its step, a wait that is over included."""
        # Not the bare column, whose index tempts: most of a product's visits are long over.
        self.product = Visit.product.concat("")
        self.there = (
            believed(read, Visit),
            there_at(read, at_us),
            self.product.in_(products),
            self.step.is_not(None),
        )

    def parts(self, *columns: Any) -> Sql:
        """These columns of every part that stands somewhere."""
        return select(self.product.label("product"), *columns).where(*self.there)


def wip_by_step(read: Read, products: tuple[str, ...], at_us: int) -> Sql:
    """WIP(t): parts created, neither released nor scrapped at t, at the step they are in work
    at, else at the step they wait for; events before t count, not those at it."""
    at = At(read, products, at_us)
    columns = (at.step.label("step"), func.count().label("parts"))
    return at.parts(*columns).group_by(at.product, at.step)


def _ended(read: Read, window: Window) -> list[ColumnElement[bool]]:
    """Visits of the products that ended in the window."""
    return [
        believed(read, Visit),
        Visit.product.in_(window.products),
        Visit.step.is_not(None),
        _within(Visit.end_us, Visit.end_known_us, window, read),
    ]


def step_counts(read: Read, window: Window) -> Sql:
    """First-pass yield: first visits ended in the window with outcome pass ÷ first visits ended
    in the window. Rework ratio: visits ended in rework or repair ÷ visits ended."""
    first_pass = and_(Visit.first, Visit.outcome == "pass")
    return (
        select(
            Visit.product,
            Visit.step,
            func.count().label("visits"),
            func.sum(case((Visit.first, 1), else_=0)).label("first_visits"),
            func.sum(case((first_pass, 1), else_=0)).label("first_passes"),
            func.sum(case((Visit.outcome.in_(("rework", "repair")), 1), else_=0)).label(
                "reworks"
            ),
        )
        .where(*_ended(read, window))
        .group_by(Visit.product, Visit.step)
    )


def visit_spans(read: Read, window: Window) -> Sql:
    """Begin, end, touch and queue [us] of every visit that ended in the window, for its hours
    by the calendar of its station group."""
    return select(
        Visit.product, Visit.step, Visit.begin_us, Visit.end_us, Visit.touch_us, Visit.queue_us
    ).where(*_ended(read, window))


def step_medians(read: Read, window: Window) -> Sql:
    """The medians of touch time and queue time by step [us], over visits ended in the
    window."""
    step = (Visit.product, Visit.step)
    ended = select(
        *step,
        *_ranked("touch", Visit.touch_us, step),
        *_ranked("queue", Visit.queue_us, step),
    )
    ranked = ended.where(*_ended(read, window)).subquery().c
    return select(
        ranked.product,
        ranked.step,
        _quantile(ranked.touch, ranked.touch_k, ranked.touch_n, 0.5).label("touch"),
        _quantile(ranked.queue, ranked.queue_k, ranked.queue_n, 0.5).label("queue"),
    ).group_by(ranked.product, ranked.step)


def _ranked(name: str, value: Any, within: tuple[Any, ...]) -> tuple[Any, ...]:
    """A value, its place k from 0 among those of its group in ascending order, their number."""
    place = func.row_number().over(partition_by=within, order_by=value) - 1
    number = func.count().over(partition_by=within)
    return value.label(name), place.label(f"{name}_k"), number.label(f"{name}_n")


def _quantile(value: Any, k: Any, n: Any, q: float) -> ColumnElement[float]:
    """Quantile by linear interpolation: position (n - 1) q of the values sorted from 0."""
    distance = func.abs(k - (n - 1) * q)
    return func.sum(value * case((distance < 1, 1.0 - distance), else_=0.0))


def _released(read: Read, window: Window) -> list[ColumnElement[bool]]:
    """Lives of the products that ended with a release in the window."""
    return [
        believed(read, Life),
        Life.product.in_(window.products),
        _within(Life.released_us, Life.released_known_us, window, read),
    ]


def cycle_time(read: Read, window: Window) -> Sql:
    """Cycle time [us] of the parts released in the window: release less creation."""
    lives = select(
        Life.product, *_ranked("value", Life.released_us - Life.created_us, (Life.product,))
    )
    ranked = lives.where(*_released(read, window)).subquery().c
    return select(
        ranked.product,
        func.count().label("n"),
        func.avg(ranked.value * 1.0).label("mean"),
        _quantile(ranked.value, ranked.value_k, ranked.value_n, 0.5).label("median"),
        _quantile(ranked.value, ranked.value_k, ranked.value_n, 0.9).label("p90"),
    ).group_by(ranked.product)


def releases(read: Read, window: Window) -> Sql:
    """Creation and release [us] of the parts released in the window, in order of release."""
    return (
        select(Life.product, Life.created_us, Life.released_us)
        .where(*_released(read, window))
        .order_by(Life.released_us, Life.serial)
    )


def scrap_reasons(read: Read, window: Window) -> Sql:
    """Parts scrapped in the window by defect, step that found it, step that caused it."""
    columns = (Life.scrap_defect, Life.found_step, Life.caused_step)
    return (
        select(Life.product, *columns, func.count().label("parts"))
        .where(
            believed(read, Life),
            Life.product.in_(window.products),
            _within(Life.scrapped_us, Life.scrapped_known_us, window, read),
        )
        .group_by(Life.product, *columns)
        .order_by(func.count().desc(), *columns)
    )


def revoked_releases(read: Read, window: Window) -> Sql:
    """Products of which a release once counted in the window is believed no more."""
    now = Life.__table__.alias("life_now")
    known = read.known_before_us
    return (
        select(Life.product)
        .distinct()
        .join(now, and_(now.c.site_id == Life.site_id, now.c.serial == Life.serial))
        .where(
            Life.site_id == read.site.id,
            Life.product.in_(window.products),
            Life.known_to_us < known,
            Life.released_us >= window.start_us,
            Life.released_us < window.end_us,
            now.c.known_from_us < known,
            now.c.known_to_us >= known,
            or_(now.c.released_us.is_(None), now.c.released_us != Life.released_us),
        )
    )


Plan = dict[str, dict[int, tuple[int, int]]]
"""Product and step to (planned queue, planned work) [us]."""


def standing_by_step(read: Read, at_us: int, plan_us: Plan) -> Sql:
    """Parts at each step at an instant: waiting, in work, held, over plan, the oldest.

    A part is over plan when it has been at the step for longer than its plan allows.
    """
    at = At(read, tuple(plan_us), at_us)
    allowed = case(
        (at.in_work, _planned(plan_us, 1, at.step)), else_=_planned(plan_us, 0, at.step)
    )
    by_age = func.row_number().over(
        partition_by=(at.product, at.step), order_by=(at.since, Visit.serial)
    )
    standing = at.parts(
        Visit.serial,
        at.step.label("step"),
        case((at.in_work, 1), else_=0).label("in_work"),
        at.since.label("since"),
        case((held_at(read, at_us), 1), else_=0).label("held"),
        case((at_us - at.since > allowed, 1), else_=0).label("over"),
        by_age.label("age"),
    ).subquery()
    oldest = case((standing.c.age == 1, standing.c.serial))
    return select(
        standing.c.product,
        standing.c.step,
        func.count().label("parts"),
        func.sum(standing.c.in_work).label("in_work"),
        func.sum(standing.c.held).label("held"),
        func.sum(standing.c.over).label("over"),
        func.min(standing.c.since).label("since"),
        func.max(oldest).label("oldest"),
    ).group_by(standing.c.product, standing.c.step)


def _planned(plan_us: Plan, place: int, step: Any) -> ColumnElement[int]:
    """What is planned for a visit's product at a step; no end where nothing is."""
    by_product = {
        product: case({n: us[place] for n, us in steps.items()}, value=step, else_=FOREVER_US)
        for product, steps in plan_us.items()
        if steps
    }
    return case(by_product, value=Visit.product, else_=FOREVER_US)


def held_at(read: Read, at_us: int) -> ColumnElement[bool]:
    """True for a visit's part that is on hold at an instant."""
    return (
        select(Hold.serial)
        .where(
            believed(read, Hold),
            Hold.serial == Visit.serial,
            instant_then(read, Hold.from_us, Hold.from_known_us) < at_us,
            # By serial, not by when they end: holds once believed open stay so in their rows.
            instant_then(read, Hold.to_us + 0, Hold.to_known_us) >= at_us,
        )
        .exists()
    )

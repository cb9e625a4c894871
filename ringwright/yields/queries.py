"""Counts behind the yields, as SELECTs over projections, portable to both stores.

Each statement looks only at what happened in the weeks asked for, and takes the snapshot's
knowledge into account as `flow/queries.py` does. Every docstring states its rule.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from sqlalchemy import and_, case, func, literal, select, true, union_all

from ringwright.flow.queries import believed
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Nonconformity, Visit
from ringwright.yields.scope import LONGEST_LOAD_US, Narrowing, Scope

Sql = Any
AGAIN: Final = ("rework", "repair")
EXITS: Final = (
    ("released", Life.released_us, Life.released_known_us),
    ("scrapped", Life.scrapped_us, Life.scrapped_known_us),
)
LOAD_COLUMNS: Final = (
    Visit.serial, Visit.step, Visit.station, Visit.run, Visit.begin_us, Visit.end_us,
    Visit.first, Visit.outcome, Visit.revision, Visit.part_lot, Visit.product,
)  # fmt: skip


def counts_of(v: Any, counted: Any = True) -> tuple[Any, ...]:
    """Visits; first visits; those that passed; ended in rework or repair; in scrap.

    `counted` says which of the rows count.
    """

    def number(name: str, *rules: Any) -> Any:
        return func.sum(case((and_(counted, *rules), 1), else_=0)).label(name)

    return (
        number("visits"),
        number("firsts", v.first),
        number("passes", v.first, v.outcome == "pass"),
        number("reworks", v.outcome.in_(AGAIN)),
        number("scraps", v.outcome == "scrap"),
    )


def visits_by_week(read: Read, scope: Scope) -> Sql:
    """Visits ended, by step and week, with what became of them.

    Those ended in rework or repair stand apart by their defect ("" where none was named);
    the rest has none.
    """
    narrow = Narrowing(read, scope)
    week = narrow.week(Visit.end_us).label("week")
    again = case((Visit.outcome.in_(AGAIN), func.coalesce(Visit.defect, ""))).label("again")
    return (
        select(Visit.step, week, again, *counts_of(Visit, true()))
        .where(*narrow.ended(scope.from_us), *narrow.visits(Visit))
        .group_by(Visit.step, week, again)
    )


def loads_by_week(read: Read, scope: Scope, steps: frozenset[int]) -> Sql:
    """Visits of the steps worked in loads, by station, begin and the week of their end.

    Rows that overlap in time are one load (`tally.chained`): all visits of a step and station
    are here, whatever narrows says only which of them count. Beside the counts of visits: how
    many first visits are of parts scrapped in the window, and for what this step caused.
    """
    narrow = Narrowing(read, scope)
    week = narrow.week(Visit.end_us).label("week")
    counted = narrow.counted(Visit, scope.from_us)
    lost = and_(Life.serial.is_not(None), Visit.first, counted)
    own = and_(
        Life.serial == Visit.serial,
        believed(read, Life),
        narrow.happened(Life.scrapped_us, Life.scrapped_known_us, scope.start_us),
    )
    here = and_(lost, Life.caused_step == Visit.step)
    return (
        select(
            Visit.step, Visit.station, Visit.begin_us, week,
            func.max(Visit.end_us).label("end_us"), *counts_of(Visit, counted),
            func.sum(case((lost, 1), else_=0)).label("lost"),
            func.sum(case((here, 1), else_=0)).label("lost_here"),
        )
        .outerjoin(Life, own)
        .where(
            *narrow.ended(scope.from_us - LONGEST_LOAD_US), Visit.step.in_(sorted(steps))
        )
        .group_by(Visit.step, Visit.station, Visit.begin_us, week)
        .order_by(Visit.step, Visit.station, Visit.begin_us, week)
    )  # fmt: skip


def load_around(read: Read, scope: Scope, station: str, begin_us: int) -> Sql:
    """Visits at a station from a load's first begin on, to find which of them are that load."""
    begun = and_(Visit.begin_us >= begin_us, Visit.begin_us < begin_us + LONGEST_LOAD_US)
    if read.as_of_us is not None:
        begun = and_(begun, Visit.begin_known_us < read.known_before_us)
    return select(
        Visit.serial, Visit.step, Visit.station, Visit.run, Visit.begin_us, Visit.end_us,
        Visit.outcome, Visit.defect,
    ).where(
        believed(read, Visit),
        Visit.product == scope.product,
        Visit.station == station,
        Visit.step.is_not(None),
        begun,
    )  # fmt: skip


def exits_by_week(read: Read, scope: Scope) -> Sql:
    """Distinct serials released, and scrapped, by week."""
    narrow = Narrowing(read, scope)
    return exits(narrow, scope.from_us, narrow.week)


def exits(
    narrow: Narrowing, start_us: int, group: Callable[[Any], Any], *, by_shift: bool = False
) -> Sql:
    """Parts released and scrapped from an instant on, by what `group` makes of the moment."""
    parts = []
    for kind, at, known in EXITS:
        key = group(at).label("key")
        rules = [narrow.happened(at, known, start_us), *narrow.lives(at)]
        if by_shift:
            rules += narrow.in_shift(at)
        number = func.count(Life.serial.distinct()).label("n")
        parts.append(
            select(key, literal(kind).label("kind"), number).where(*rules).group_by(key)
        )
    return union_all(*parts)


def cohort_by_week(read: Read, scope: Scope) -> Sql:
    """Parts created in the window, by week, and what became of them as of now."""
    narrow = Narrowing(read, scope)
    return cohort(narrow, narrow.week(Life.created_us))


def cohort(narrow: Narrowing, group: Any, *, by_shift: bool = False) -> Sql:
    """Parts created in the window, by a group, and what became of them as of now."""
    known = narrow.read.known_before_us
    key, at = group.label("key"), Life.created_us
    rules = [
        narrow.happened(at, Life.created_known_us, narrow.scope.start_us),
        *narrow.lives(at),
    ]
    if by_shift:
        rules += narrow.in_shift(at)

    def went(instant: Any, known_us: Any, name: str) -> Any:
        rule = and_(instant.is_not(None), known_us < known)
        return func.sum(case((rule, 1), else_=0)).label(name)

    return (
        select(
            key,
            func.count().label("created"),
            went(Life.released_us, Life.released_known_us, "released"),
            went(Life.scrapped_us, Life.scrapped_known_us, "scrapped"),
        )
        .where(*rules)
        .group_by(key)
    )


def scrap_groups(read: Read, scope: Scope) -> Sql:
    """Parts scrapped in the window by defect, place on the part, step found, step caused."""
    narrow, at = Narrowing(read, scope), Life.scrapped_us
    columns = (
        Life.scrap_defect.label("defect"),
        Life.scrap_place.label("place"),
        Life.found_step.label("found_step"),
        Life.caused_step.label("caused_step"),
    )
    return (
        select(*columns, func.count(Life.serial.distinct()).label("parts"))
        .where(
            narrow.happened(at, Life.scrapped_known_us, scope.start_us), *narrow.lives(at)
        )
        .group_by(Life.scrap_defect, Life.scrap_place, Life.found_step, Life.caused_step)
    )  # fmt: skip


def sentenced_reworks(read: Read, scope: Scope) -> Sql:
    """Visits ended in rework or repair by a sentence, by defect, place, step found and caused.

    The step that found it is the visit's; place and cause are the nonconformity's. A rework
    booked without one is not here: it has neither place nor cause.
    """
    narrow, n = Narrowing(read, scope), Nonconformity
    ended = and_(Visit.serial == n.serial, Visit.end_us == n.closed_us)
    rows = (
        select(
            func.coalesce(Visit.defect, "").label("defect"),
            Visit.step.label("found_step"),
            func.max(n.place_on_part).label("place"),
            func.max(n.caused_step).label("caused_step"),
        )
        .select_from(n)
        .join(Visit, ended)
        .where(
            believed(read, n),
            narrow.happened(n.closed_us, n.closed_known_us, scope.start_us),
            n.decision == Visit.outcome,
            Visit.outcome.in_(AGAIN),
            believed(read, Visit),
            Visit.step.is_not(None),
            # By serial, not by product and end: the stops are few, the visits many.
            narrow.happened(Visit.end_us + 0, Visit.end_known_us, scope.start_us),
            *([Visit.product.concat("") == scope.product] if scope.product else []),
            *narrow.visits(Visit),
        )
        .group_by(Visit.serial, Visit.number, Visit.defect, Visit.step)
        .subquery("reworked")
    )
    columns = (rows.c.defect, rows.c.place, rows.c.found_step, rows.c.caused_step)
    return select(*columns, func.count().label("parts")).group_by(*columns)

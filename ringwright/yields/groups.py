"""The same counts told apart by lot, station, furnace, shift, revision or product."""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import and_, case, false, func, literal, or_, select, true, union_all

from ringwright.flow.loads import with_loads
from ringwright.flow.queries import believed
from ringwright.furnaces.tables import FurnaceRun
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Visit
from ringwright.yields.queries import EXITS, LOAD_COLUMNS, Sql, cohort, counts_of, exits
from ringwright.yields.scope import LONGEST_LOAD_US, Narrowing, Scope

LIFE_KEYS: Final[dict[str, Any]] = {
    "lot": Life.lot,
    "revision": Life.revision,
    "product": Life.product,
}
VISIT_KEYS: Final = {
    "lot": "part_lot",
    "revision": "revision",
    "product": "product",
    "station": "station",
}


def _key(narrow: Narrowing, dimension: str, v: Any) -> Any:
    if dimension == "shift":
        return narrow.shifts.c.name.label("key")
    if dimension == "furnace":
        return _furnace(narrow, v).label("key")
    if dimension == "week":
        return narrow.week(v.end_us).label("key")
    return getattr(v, VISIT_KEYS[dimension]).label("key")


def _furnace(narrow: Narrowing, v: Any) -> Any:
    """The furnace of the run that a visit began with; null without one."""
    own = (FurnaceRun.site_id == narrow.read.site.id, FurnaceRun.code == v.run)
    return select(FurnaceRun.furnace).where(*own).scalar_subquery()


def _shift_rules(narrow: Narrowing, dimension: str, instant: Any) -> list[Any]:
    return narrow.in_shift(instant) if dimension == "shift" else []


def visits_by(read: Read, scope: Scope, dimension: str) -> Sql:
    """Visits ended in the window, by step and group. By shift: the shift of the end."""
    narrow = Narrowing(read, scope)
    key = _key(narrow, dimension, Visit)
    return (
        select(key, Visit.step, *counts_of(Visit, true()))
        .where(
            *narrow.ended(scope.start_us),
            *narrow.visits(Visit),
            *_shift_rules(narrow, dimension, Visit.end_us),
        )
        .group_by(key, Visit.step)
    )


def loads_by(
    read: Read, scope: Scope, steps: frozenset[tuple[str, int]], dimension: str
) -> Sql:
    """How many loads the visits of each group and step came in, and the first visits.

    `steps` are (product, step) pairs: in a look at all products each has its own.
    """
    narrow = Narrowing(read, scope)
    found = with_loads(
        select(*LOAD_COLUMNS).where(
            *narrow.ended(scope.start_us - LONGEST_LOAD_US),
            or_(
                *(and_(Visit.product == p, Visit.step == n) for p, n in sorted(steps)), false()
            ),
        ),
        "product",
    )
    v = found.c
    mine = (_key(narrow, dimension, v), v.step, v.station, v.load_begin_us)
    each = (
        select(*mine, func.max(case((v.first, 1), else_=0)).label("first"))
        .where(
            v.end_us >= scope.start_us,
            *narrow.visits(v),
            *_shift_rules(narrow, dimension, v.end_us),
        )
        .group_by(*mine)
        .subquery("each")
    )
    own = (each.c.key, each.c.step)
    counted = (func.count().label("loads"), func.sum(each.c.first).label("first_loads"))
    return select(*own, *counted).group_by(*own)


def each_load_by(read: Read, scope: Scope, step: int, dimension: str) -> Sql:
    """The loads of a step by group: first visits of each, and those that passed.

    A load whose parts are of several groups stands once in each.
    """
    narrow = Narrowing(read, scope)
    found = with_loads(
        select(*LOAD_COLUMNS).where(
            *narrow.ended(scope.start_us - LONGEST_LOAD_US), Visit.step == step
        )
    )
    v = found.c
    key = _key(narrow, dimension, v)
    mine = (key, v.station, v.load_begin_us)
    return (
        select(
            *mine,
            func.sum(case((v.first, 1), else_=0)).label("firsts"),
            func.sum(case((and_(v.first, v.outcome == "pass"), 1), else_=0)).label("passes"),
        )
        .where(
            v.end_us >= scope.start_us,
            *narrow.visits(v),
            *_shift_rules(narrow, dimension, v.end_us),
        )
        .group_by(*mine)
        .having(func.sum(case((v.first, 1), else_=0)) > 0)
        .order_by(*mine)
    )


def exits_by(read: Read, scope: Scope, dimension: str) -> Sql:
    """Parts released and scrapped in the window, by group.

    By shift: the shift of the release or scrap. By station or furnace: parts that have been
    there, so that one part counts at every one it has been at.
    """
    narrow = Narrowing(read, scope)
    if dimension in ("station", "furnace"):
        return _exits_by_place(narrow, dimension)
    if dimension == "shift":
        key = narrow.shifts.c.name
        return exits(narrow, scope.start_us, lambda _at: key, by_shift=True)
    return exits(narrow, scope.start_us, lambda _at: LIFE_KEYS[dimension])


def _exits_by_place(narrow: Narrowing, dimension: str) -> Sql:
    parts = []
    # Serials first, and no index to group by: else SQLite goes through all visits ever.
    there = Visit.station if dimension == "station" else _furnace(narrow, Visit)
    key = func.coalesce(there, "")
    for kind, at, known in EXITS:
        gone = select(Life.serial).where(
            narrow.happened(at, known, narrow.scope.start_us), *narrow.lives(at)
        )
        parts.append(
            select(
                key.label("key"),
                literal(kind).label("kind"),
                func.count(Visit.serial.distinct()).label("n"),
            )
            .where(
                believed(narrow.read, Visit), Visit.step.is_not(None), Visit.serial.in_(gone)
            )
            .group_by(key)
        )
    return union_all(*parts)


def cohort_by(read: Read, scope: Scope, dimension: str) -> Sql:
    """Parts created in the window by group. By shift: the shift of their creation."""
    narrow = Narrowing(read, scope)
    if dimension == "shift":
        return cohort(narrow, narrow.shifts.c.name, by_shift=True)
    return cohort(narrow, LIFE_KEYS[dimension])

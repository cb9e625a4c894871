"""The same counts told apart by lot, station, shift, revision or product."""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import and_, case, false, func, literal, or_, select, true, union_all

from ringwright.flow.loads import with_loads
from ringwright.flow.queries import believed
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
    return getattr(v, VISIT_KEYS[dimension]).label("key")


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


def exits_by(read: Read, scope: Scope, dimension: str) -> Sql:
    """Parts released and scrapped in the window, by group.

    By shift: the shift of the release or scrap. By station: parts that have been there, so that
    one part counts at every station it has been at.
    """
    narrow = Narrowing(read, scope)
    if dimension == "station":
        return _exits_by_station(narrow)
    if dimension == "shift":
        key = narrow.shifts.c.name
        return exits(narrow, scope.start_us, lambda _at: key, by_shift=True)
    return exits(narrow, scope.start_us, lambda _at: LIFE_KEYS[dimension])


def _exits_by_station(narrow: Narrowing) -> Sql:
    parts = []
    # Serials first, and no index to group by: else SQLite goes through all visits ever.
    key = func.coalesce(Visit.station, "")
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

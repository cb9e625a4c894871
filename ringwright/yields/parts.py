"""The parts behind one point of a chart: a week's visits at a step, or its exits."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sqlalchemy import func, literal, select, union_all

from ringwright.flow.loads import loads_of, parse_load
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Visit
from ringwright.yields.queries import EXITS, Sql, load_around
from ringwright.yields.scope import Narrowing, Scope


@dataclass(frozen=True, slots=True, kw_only=True)
class Behind:
    """One part of a point, and what became of it there."""

    serial: str
    at_us: int
    outcome: str
    station: str
    run: str
    defect: str


def read_behind(read: Read, scope: Scope, step: int | None, point: str) -> tuple[Behind, ...]:
    """The parts of a week or of a load: first visits at the step; without a step the exits."""
    if "@" in point:
        return _of_load(read, scope, step, point)
    return _of_week(read, scope, step, point)


def _of_load(read: Read, scope: Scope, step: int | None, code: str) -> tuple[Behind, ...]:
    station, begin_us = parse_load(code, read.site.zone)
    rows = read.connection.execute(load_around(read, scope, station, begin_us)).all()
    loads = [one for one in loads_of(rows) if (one.step, one.begin_us) == (step, begin_us)]
    return tuple(
        Behind(serial=row.serial, at_us=row.end_us, outcome=row.outcome or "",
               station=row.station, run=row.run, defect=row.defect or "")
        for load in loads
        for row in sorted(rows, key=lambda r: (r.outcome == "pass", r.end_us, r.serial))
        if row.step == step and row.serial in load.serials and row.begin_us < load.end_us
        and row.end_us <= read.now_us
    )  # fmt: skip


def _of_week(read: Read, scope: Scope, step: int | None, week: str) -> tuple[Behind, ...]:
    own = tuple(span for span in scope.weeks if span[2] == week)
    if not own:
        return ()
    narrow = Narrowing(read, replace(scope, weeks=own, start_us=own[0][0]))
    rows = read.connection.execute(_exits(narrow) if step is None else _visits(narrow, step))
    return tuple(
        Behind(serial=row.serial, at_us=row.at_us, outcome=row.outcome or "",
               station=row.station, run=row.run, defect=row.defect or "")
        for row in rows
    )  # fmt: skip


def _visits(narrow: Narrowing, step: int) -> Sql:
    """Those that did not pass come first."""
    return (
        select(
            Visit.serial, Visit.end_us.label("at_us"), Visit.outcome, Visit.station, Visit.run,
            Visit.defect,
        )
        .where(
            *narrow.ended(narrow.scope.start_us), *narrow.visits(Visit),
            Visit.step == step, Visit.first,
        )
        .order_by(Visit.outcome == "pass", Visit.end_us, Visit.serial)
    )  # fmt: skip


def _exits(narrow: Narrowing) -> Sql:
    """Scrapped first, then released."""
    parts = []
    for kind, at, known in EXITS:
        parts.append(
            select(
                Life.serial, func.min(at).label("at_us"), literal(kind).label("outcome"),
                literal("").label("station"), literal("").label("run"),
                func.max(Life.scrap_defect).label("defect"),
            )
            .where(narrow.happened(at, known, narrow.scope.start_us), *narrow.lives(at))
            .group_by(Life.serial)
        )  # fmt: skip
    both = union_all(*parts).subquery("exits")
    return select(both).order_by(both.c.outcome.desc(), both.c.at_us, both.c.serial)

"""Hours of single visits, loads and parts, for a chart of single values.

A visit counts by its end, a part by its release. Where a step works in loads, a load is one
value, the mean of its visits: they were worked together and would tell the same many times.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import func, select

from ringwright.flow.loads import load_code, loads_of
from ringwright.flow.queries import HOUR_US
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Visit
from ringwright.yields.model import CYCLE, ELAPSED, QUEUE, TOUCH, StepYield, Taken
from ringwright.yields.queries import Sql
from ringwright.yields.scope import Narrowing, Scope


def read_taken(
    read: Read, scope: Scope, step: StepYield | None, kind: str
) -> tuple[Taken, ...]:
    """The hours of every visit of a step, or of every released part, in the order of ends."""
    narrow = Narrowing(read, scope)
    if step is None:
        rows = read.connection.execute(releases_taken(narrow)).all()
    else:
        rows = read.connection.execute(visits_taken(narrow, step.number, kind)).all()
        if step.in_loads:
            return _by_load(read, scope, rows)
    found = [_taken(scope, row.serial, (row,), False) for row in rows]
    return tuple(sorted(found, key=lambda one: (one.end_us, one.begin_us, one.name)))


def visits_taken(narrow: Narrowing, step: int, kind: str) -> Sql:
    """Every visit of a step that ended in the weeks, first or not, with the hours asked for.

    One that waited for nothing, or whose touch is not known, has none and is left out.
    """
    elapsed = Visit.end_us - Visit.begin_us
    taken = {
        TOUCH: Visit.touch_us,
        QUEUE: Visit.queue_us,
        ELAPSED: elapsed,
        CYCLE: elapsed + func.coalesce(Visit.queue_us, 0),
    }[kind]
    return select(
        Visit.serial, Visit.step, Visit.station, Visit.run, Visit.begin_us, Visit.end_us,
        taken.label("taken_us"),
    ).where(
        *narrow.ended(narrow.scope.from_us), *narrow.visits(Visit), Visit.step == step,
        taken.is_not(None),
    )  # fmt: skip


def releases_taken(narrow: Narrowing) -> Sql:
    """Release less creation of every part released in the weeks."""
    at = Life.released_us
    return (
        select(
            Life.serial,
            func.min(at).label("end_us"),
            func.min(Life.created_us).label("begin_us"),
            func.min(at - Life.created_us).label("taken_us"),
        )
        .where(
            narrow.happened(at, Life.released_known_us, narrow.scope.from_us),
            *narrow.lives(at),
        )
        .group_by(Life.serial)
    )


def _by_load(read: Read, scope: Scope, rows: Iterable[Any]) -> tuple[Taken, ...]:
    own = {(row.serial, row.station, row.begin_us): row for row in rows}
    begun: dict[tuple[str, str], list[Any]] = {}
    for (serial, station, _), row in own.items():
        begun.setdefault((serial, station), []).append(row)
    found = []
    for load in loads_of(own.values()):
        visits = [
            row
            for serial in load.serials
            for row in begun[serial, load.station]
            if load.begin_us <= row.begin_us <= load.end_us and row.end_us <= load.end_us
        ]
        name = load_code(load.station, load.begin_us, read.site.zone)
        found.append(_taken(scope, name, visits, True))
    return tuple(sorted(found, key=lambda one: (one.end_us, one.begin_us, one.name)))


def _taken(scope: Scope, name: str, rows: Sequence[Any], of_load: bool) -> Taken:
    end_us = max(row.end_us for row in rows)
    return Taken(
        name=name,
        of_load=of_load,
        station=getattr(rows[0], "station", ""),
        begin_us=min(row.begin_us for row in rows),
        end_us=end_us,
        hours=sum(row.taken_us for row in rows) / len(rows) / HOUR_US,
        visits=len(rows),
        in_window=end_us >= scope.start_us,
    )

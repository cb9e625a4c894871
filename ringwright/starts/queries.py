"""What a plan of starts stands on: yields, parts in work and how long their way still is.

All of it from one snapshot, of the last weeks or of what is open now.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import Select, and_, distinct, func, select

from ringwright.flow.loads import with_loads
from ringwright.flow.queries import At, believed, held_at, instant_then
from ringwright.flow.service import moment_of
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Visit

Sql = Select[*tuple[Any, ...]]


def through_by_step(read: Read, product: str, since_us: int) -> Sql:
    """Distinct parts that were passed or conceded at each step since an instant."""
    end = instant_then(read, Visit.end_us, Visit.end_known_us)
    return (
        select(Visit.step, func.count(distinct(Visit.serial)).label("parts"))
        .where(
            believed(read, Visit),
            Visit.product == product,
            Visit.step.is_not(None),
            Visit.end_us >= since_us,
            end < read.now_us + 1,
            Visit.outcome.in_(("pass", "concession")),
        )
        .group_by(Visit.step)
    )


def lost_by_step(read: Read, product: str, since_us: int) -> Sql:
    """Parts scrapped since an instant, by the step that found it; None where none was."""
    return (
        select(Life.found_step.label("step"), func.count(distinct(Life.serial)).label("parts"))
        .where(
            believed(read, Life),
            Life.product == product,
            Life.scrapped_us >= since_us,
            Life.scrapped_us <= read.now_us,
            Life.scrapped_known_us < read.known_before_us,
        )
        .group_by(Life.found_step)
    )


def loads_by_step(read: Read, product: str, since_us: int, steps: tuple[int, ...]) -> Sql:
    """How many loads, and visits in them, began since an instant at steps worked in loads."""
    visits = select(
        *(Visit.serial, Visit.step, Visit.station, Visit.run, Visit.begin_us, Visit.end_us)
    ).where(
        believed(read, Visit),
        Visit.product == product,
        Visit.step.in_(steps),
        Visit.end_us >= since_us,
        Visit.begin_us >= since_us,
        Visit.begin_known_us < read.known_before_us,
    )
    rows = with_loads(visits).c
    one = rows.run.concat(" ").concat(rows.station)
    kinds = select(rows.step, one.label("at"), rows.load_begin_us, func.count().label("parts"))
    loads = kinds.group_by(rows.step, one, rows.load_begin_us).subquery().c
    return select(
        loads.step, func.count().label("loads"), func.sum(loads.parts).label("parts")
    ).group_by(loads.step)


def parts_in_work(read: Read, product: str) -> Sql:
    """Each part now in the cell: where it stands, since when it is there, and if it is held.

    A part in work stands at its step since it arrived there, its wait included.
    """
    at_us = moment_of(read)
    at = At(read, (product,), at_us)
    return at.parts(
        Visit.serial,
        at.step.label("step"),
        at.arrived.label("since_us"),
        held_at(read, at_us).label("held"),
    )


def ways_left(read: Read, product: str, since_us: int) -> Sql:
    """From arrival at each step to release [us], of the parts released since an instant."""
    arrived = Visit.begin_us - func.coalesce(Visit.queue_us, 0)
    return (
        select(Visit.step, (Life.released_us - arrived).label("left_us"))
        .join(Visit, and_(Visit.site_id == Life.site_id, Visit.serial == Life.serial))
        .where(
            believed(read, Life),
            believed(read, Visit),
            Life.product == product,
            Life.released_us >= since_us,
            Life.released_us <= read.now_us,
            Life.released_known_us < read.known_before_us,
            Visit.first,
            Visit.step.is_not(None),
        )
    )

"""The windows of many parts at once, read from their visits and sentences."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from sqlalchemy import and_, case, func, select

from ringwright.flow.queries import Sql, believed, instant_then
from ringwright.ledger.service import Read
from ringwright.parts.tables import Nonconformity, Visit
from ringwright.parts.windows import ACCEPTED, LETS_ON, RAN_OUT, LetOn, Past
from ringwright.routecards.card import RouteCard

NOTHING = Past(accepted_us={}, begun_us={})
"""The past of a part that never was at a step of a window."""


def read_pasts(
    read: Read, at_us: int, serials: Any, cards: Iterable[RouteCard]
) -> dict[str, Past]:
    """Serial to what its windows are judged by, of what happened before an instant [us].

    `serials`: a list or a SELECT of them; parts that never were at such a step are left out.
    """
    steps = steps_of_windows(cards)
    if not steps:
        return {}
    run = read.connection.execute
    accepted_us: dict[str, dict[int, int]] = {}
    begun_us: dict[str, dict[int, int]] = {}
    let_on: dict[str, list[LetOn]] = {}
    for row in run(_visits(read, at_us, serials, steps)):
        begun_us.setdefault(row.serial, {})[row.step] = row.begun_us
        if row.accepted_us is not None:
            accepted_us.setdefault(row.serial, {})[row.step] = row.accepted_us
    for row in run(_let_on(read, at_us, serials)):
        one = LetOn(number=row.number, opened_us=row.opened_us, closed_us=row.closed_us)
        let_on.setdefault(row.serial, []).append(one)
    return {
        serial: Past(
            accepted_us=accepted_us.get(serial, {}),
            begun_us=begun,
            let_on=let_on.get(serial, ()),
        )
        for serial, begun in begun_us.items()
    }


def steps_of_windows(cards: Iterable[RouteCard]) -> Collection[int]:
    """The steps that windows run from and those that they ask to begin."""
    found: set[int] = set()
    for card in cards:
        for step in card.steps:
            if step.window is not None:
                found |= {step.window.after, step.number}
    return sorted(found)


def _visits(read: Read, at_us: int, serials: Any, steps: Collection[int]) -> Sql:
    """The last begin and the last accepted end, before the instant, at each of the steps."""
    begin = instant_then(read, Visit.begin_us, Visit.begin_known_us)
    end = instant_then(read, Visit.end_us, Visit.end_known_us)
    accepted = and_(Visit.outcome.in_(ACCEPTED), end < at_us)
    return (
        select(
            Visit.serial,
            Visit.step,
            func.max(begin).label("begun_us"),
            func.max(case((accepted, end))).label("accepted_us"),
        )
        .where(
            believed(read, Visit),
            Visit.serial.in_(serials),
            Visit.step.in_(steps),
            begin < at_us,
        )
        .group_by(Visit.serial, Visit.step)
    )


def _let_on(read: Read, at_us: int, serials: Any) -> Sql:
    """Stops for a window that a repair or concession decided before the instant."""
    return select(
        Nonconformity.serial,
        Nonconformity.number,
        Nonconformity.opened_us,
        Nonconformity.closed_us,
    ).where(
        believed(read, Nonconformity),
        Nonconformity.serial.in_(serials),
        Nonconformity.defect == RAN_OUT,
        Nonconformity.decision.in_(LETS_ON),
        # Not the bare column: nearly all that ever was stopped was closed before.
        instant_then(read, Nonconformity.closed_us + 0, Nonconformity.closed_known_us) < at_us,
    )

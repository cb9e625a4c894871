"""Past weeks forecast day by day as they would have been, against what came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from ringwright.outlook.answer import Outlook, Question, ask, outlook, released_between
from ringwright.outlook.counts import chance_of, high_end, low_end
from ringwright.outlook.record import Record, cut
from ringwright.outlook.scores import Judged, by_pace, by_weeks
from ringwright.outlook.worked import Worked, weeks_back


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One forecast of a past week, made at the beginning of one of its days."""

    start_us: int
    at_us: int
    out: int
    mean: float
    weeks: int
    """Past weeks known then."""
    judged: Judged


def back_test(
    record: Record, worked: Worked, asked: Sequence[Question], target: float | None
) -> tuple[Tried, ...]:
    """Each question answered from what lay before its moment, with what then came."""
    again = cache(lambda then: ask(record, worked, then))
    return tuple(
        _tried(record, worked, one, target, outlook(cut(record, one.at_us), worked, one, again))
        for one in asked
    )


def _tried(
    record: Record, worked: Worked, one: Question, target: float | None, found: Outlook
) -> Tried:
    out, mass = found.released, found.mass
    start_h, now_h, end_h = (
        float(worked.hours(us)) for us in (one.start_us, one.at_us, one.end_us)
    )
    gone = (now_h - start_h) / (end_h - start_h) if end_h > start_h else 0.0
    came = released_between(record, one.start_us, one.end_us)
    last = _last_weeks(record, one)
    return Tried(
        start_us=one.start_us,
        at_us=one.at_us,
        out=out,
        mean=out + float(mass @ np.arange(len(mass))),
        weeks=len(found.asked),
        judged=Judged(
            low=out + low_end(mass),
            high=out + high_end(mass),
            came=came,
            reached=None if target is None else came >= target,
            chance=None if target is None else chance_of(mass, target - out),
            chance_weeks=None if target is None else by_weeks(last, out, target),
            chance_pace=None if target is None else by_pace(out, gone, target, last),
        ),
    )


def _last_weeks(record: Record, one: Question) -> list[int]:
    """Outputs of the four weeks before, newest first, as far back as the record goes."""
    edges = [weeks_back(one.start_us, back, one.zone) for back in range(5)]
    return [
        released_between(record, edges[back], edges[back - 1])
        for back in range(1, 5)
        if edges[back] >= record.first_us
    ]

"""Intervals and chances of the forecast on weeks that an independent model made.

Outside: SimPy, a discrete-event simulator that knows nothing of our arithmetic. Each history is
a line of its own seed, so the weeks are independent. The goals are the project's own: the 80 %
interval holds 74 to 86 of 100, and the Brier score beats both naive forecasts.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import pytest

from ringwright.core.calendar import wall_us
from ringwright.outlook.answer import Outlook, Question, outlook, released_between
from ringwright.outlook.counts import chance_of, high_end, low_end
from ringwright.outlook.record import Record
from ringwright.outlook.scores import Judged, by_pace, by_weeks, score_of, transform
from ringwright.outlook.worked import SLOT_US, Worked, learned_intervals, worked_of
from tests.make.line import LINES, MONDAY, ZONE, known_at, plan_of, simulated, week_us

WEEKS = 26
DAYS = (-4, 0, 0, 1, 2, 3)
"""Days of the week on which is asked; -4 is the Thursday before."""


@dataclass(frozen=True)
class Trial:
    """One forecast of one simulated week, against what came."""

    mean: float
    judged: Judged
    transform: float


def working(record: Record, end_us: int) -> Worked:
    begun = Counter((record.begin_us[record.step >= 0] // SLOT_US * SLOT_US).tolist())
    return worked_of(learned_intervals(begun, record.first_us - 10**12, end_us, ZONE))


def trial(seed: int) -> Trial:
    """The forecast at a random hour, made from what was before it, and what then came."""
    line, dice = LINES[seed % len(LINES)], random.Random(seed)
    told = simulated(line, WEEKS + 2, seed)
    start_us, end_us = week_us(WEEKS)
    asked = timedelta(weeks=WEEKS, days=dice.choice(DAYS), hours=dice.choice((0, 6, 12, 15)))
    at_us = wall_us(MONDAY + asked, ZONE)
    record = known_at(told, at_us, plan_of(line))
    worked = working(record, end_us)
    question = Question(start_us=start_us, end_us=end_us, at_us=at_us, zone=ZONE)
    found = outlook(record, worked, question)
    came = sum(start_us <= us < end_us for us in told.released_us.values())
    last = [released_between(record, *week_us(WEEKS - back)) for back in range(1, 9)]
    last = last[at_us < start_us :]
    hours = [float(worked.hours(us)) for us in (start_us, max(at_us, start_us), end_us)]
    gone = (hours[1] - hours[0]) / (hours[2] - hours[0])
    mean = found.released + float(found.mass @ np.arange(len(found.mass)))
    judged = judge(found, came, last, gone)
    return Trial(mean, judged, transform(found.mass, came - found.released, dice.random()))


def judge(found: Outlook, came: int, last: list[int], gone: float) -> Judged:
    target, out = round(sum(last) / len(last)), found.released
    return Judged(
        low=out + low_end(found.mass),
        high=out + high_end(found.mass),
        came=came,
        reached=came >= target,
        chance=chance_of(found.mass, target - out),
        chance_weeks=by_weeks(last, out, target),
        chance_pace=by_pace(out, gone, target, last),
    )


@pytest.mark.long
def test_the_80_percent_interval_holds_and_the_chances_beat_naive_ones() -> None:
    trials = [trial(seed) for seed in range(5000, 5440)]
    big = [one.judged for one in trials if one.mean >= 20]
    assert len(big) >= 400

    score = score_of(big)
    held = sum(0.1 < one.transform < 0.9 for one in trials) / len(trials)
    told = f"{score}; {held:.3f} by the transform of {len(trials)}"

    assert 0.74 <= score.covered / score.n <= 0.86, told
    assert 0.74 <= held <= 0.86, told
    assert score.brier is not None, told
    assert score.brier < min(score.brier_weeks or 0.0, score.brier_pace or 0.0), told
    print(told)  # noqa: T201  what a long run is for


def test_one_week_forecast_holds_what_then_came_within_its_whole_range() -> None:
    one = trial(5003)

    assert one.judged.low <= one.mean <= one.judged.high
    assert 0.001 < one.transform < 0.999

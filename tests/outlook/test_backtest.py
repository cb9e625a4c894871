"""Past weeks forecast again: as from a record that ended there."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from ringwright.core.calendar import wall_us
from ringwright.outlook.answer import Question, outlook
from ringwright.outlook.backtest import back_test
from ringwright.outlook.record import Held, Passed, Planned, Record, cut, record_of
from ringwright.outlook.standing import standing
from ringwright.outlook.worked import Worked, worked_of
from tests.make.line import MONDAY, SMALL, ZONE, Told, known_at, plan_of, simulated, week_us

PLAN = plan_of(SMALL)
WORKED = worked_of(tuple(
    (wall_us(day + timedelta(hours=6), ZONE), wall_us(day + timedelta(hours=22), ZONE))
    for day in (MONDAY + timedelta(days=n) for n in range(80)) if day.weekday() < 5
))  # fmt: skip


@pytest.fixture(scope="module")
def told() -> Told:
    """Ten weeks of a little line."""
    return simulated(SMALL, 10, 5)


def question(week: int, day: int) -> Question:
    start_us, end_us = week_us(week)
    at_us = wall_us(MONDAY + timedelta(weeks=week, days=day), ZONE)
    return Question(start_us=start_us, end_us=end_us, at_us=at_us, zone=ZONE)


def test_a_cut_record_is_the_one_that_ended_there(told: Told) -> None:
    at_us = question(7, 2).at_us
    whole, ended = known_at(told, week_us(10)[0], PLAN), known_at(told, at_us, PLAN)

    found = cut(whole, at_us)

    for name in ("part", "step", "begin_us", "end_us", "leave_us", "goes_to", "onward"):
        np.testing.assert_array_equal(getattr(found, name), getattr(ended, name), name)
    assert outlook(found, WORKED, question(7, 2)).released == outlook(
        ended, WORKED, question(7, 2)
    ).released  # fmt: skip


def test_each_day_of_a_past_week_is_held_against_what_came(told: Told) -> None:
    whole = known_at(told, week_us(10)[0], PLAN)
    asked = [question(week, day) for week in (7, 8) for day in range(7)]

    tried = back_test(whole, WORKED, asked, 9.0)

    start_us, end_us = week_us(8)
    came = sum(start_us <= us < end_us for us in told.released_us.values())
    assert [one.judged.came for one in tried[7:]] == [came] * 7
    assert all(one.judged.reached == (came >= 9) for one in tried[7:])
    # On Saturday all is out, and the forecast knows it.
    assert (tried[12].judged.low, tried[12].judged.high) == (came, came)
    assert tried[12].judged.chance == float(came >= 9)
    assert [one.out for one in tried[7:]] == sorted(one.out for one in tried[7:])


def test_without_a_target_only_the_interval_is_judged(told: Told) -> None:
    whole = known_at(told, week_us(10)[0], PLAN)

    (one,) = back_test(whole, WORKED, [question(8, 1)], None)

    assert (one.judged.chance, one.judged.reached) == (None, None)
    assert one.judged.low <= one.mean <= one.judged.high


def held_record() -> tuple[Record, Worked]:
    """One part that waits, on hold from hour 4 to hour 6."""
    visit = Passed(serial="P", step=None, begin_us=0, end_us=0, leave_us=2**62, goes_to=10)
    plan = [Planned(number=10, name="Only", work_h=1, queue_h=1)]
    hour = 3_600_000_000
    record = record_of(plan, [visit], {}, [Held(serial="P", from_us=4 * hour, to_us=6 * hour)])
    return record, worked_of(((0, 100 * hour),))


@pytest.mark.parametrize(("hour", "held"), [(4, -1.0), (5, 1.0), (6, 2.0), (7, -1.0)])
def test_a_part_is_on_hold_from_just_after_it_began_until_it_was_lifted(
    hour: int, held: float
) -> None:
    record, worked = held_record()

    assert standing(record, worked, hour * 3_600_000_000).held_h == pytest.approx([held])

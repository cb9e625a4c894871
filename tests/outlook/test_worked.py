"""Working hours as learned from when visits began."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from ringwright.core.calendar import HOUR_US, wall_us
from ringwright.outlook.worked import SLOT_US, learned_intervals, weeks_back, worked_of

ZONE = "Europe/Oslo"


def us(text: str) -> int:
    return wall_us(datetime.fromisoformat(text), ZONE)


def begun(first: str, days: int, hours: range, closed: tuple[int, ...] = ()) -> dict[int, int]:
    """Four begins in each half hour of those hours, but on closed weekdays."""
    found = {}
    for day in range(days):
        midnight = datetime.fromisoformat(first) + timedelta(days=day)
        if midnight.weekday() in closed:
            continue
        for half in range(2 * hours.start, 2 * hours.stop):
            at = wall_us(midnight + timedelta(minutes=30 * half), ZONE)
            found[at - at % SLOT_US] = 4
    return found


def test_a_weekday_on_which_nothing_began_was_closed() -> None:
    begins = begun("2026-09-07", 28, range(6, 22), closed=(2, 5, 6))

    laid = learned_intervals(begins, us("2026-10-05"), us("2026-10-12"), ZONE)

    days = [0, 1, 3, 4]
    assert laid == tuple(
        (us(f"2026-10-{5 + day:02}T06:00"), us(f"2026-10-{5 + day:02}T22:00")) for day in days
    )


def test_hours_follow_the_clock_of_the_site_through_its_change() -> None:
    begins = begun("2026-09-07", 28, range(6, 14))

    laid = learned_intervals(begins, us("2026-10-24"), us("2026-10-26"), ZONE)

    assert [(end - begin) // HOUR_US for begin, end in laid] == [8, 8]
    # Clocks go back in the night between: 25 hours from one six o'clock to the next.
    assert laid[1][0] - laid[0][0] == 25 * HOUR_US


def test_a_weekday_the_record_never_saw_counts_as_worked() -> None:
    begins = begun("2026-09-07", 3, range(6, 14))

    laid = learned_intervals(begins, us("2026-09-10"), us("2026-09-11"), ZONE)

    assert laid == ((us("2026-09-10T06:00"), us("2026-09-10T14:00")),)


def test_without_begins_every_hour_counts() -> None:
    assert learned_intervals({}, 0, 5 * HOUR_US, ZONE) == ((0, 5 * HOUR_US),)


def test_a_single_begin_by_night_makes_no_night_shift() -> None:
    begins = begun("2026-09-07", 28, range(6, 22), closed=(5, 6))
    begins[us("2026-09-15T03:00")] = 1

    laid = learned_intervals(begins, us("2026-10-06"), us("2026-10-07"), ZONE)

    assert laid == ((us("2026-10-06T06:00"), us("2026-10-06T22:00")),)


def test_working_hours_stand_still_while_closed() -> None:
    worked = worked_of(((0, 2 * HOUR_US), (10 * HOUR_US, 12 * HOUR_US)))

    gone = [float(worked.hours(hour * HOUR_US)) for hour in (0, 1, 5, 10, 11, 40)]
    assert gone == pytest.approx([0, 1, 2, 2, 3, 4])


def test_a_week_back_is_the_same_clock_time() -> None:
    after_change = us("2026-10-28T06:00")

    assert weeks_back(after_change, 1, ZONE) == us("2026-10-21T06:00")
    assert weeks_back(after_change, -1, ZONE) == us("2026-11-04T06:00")

"""Shifts: working time true across clock changes, closed days and new calendars."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.core.calendar import (
    HOUR_US,
    iso_text,
    parse_instant,
    shift_at,
    site_time,
    week_window,
    working_intervals,
    working_us,
)
from ringwright.sites.site import Calendar, Shift
from tests.make.moments import ZONES, instants

EVERY_DAY = tuple(range(7))
OSLO = "Europe/Oslo"


def shift(start: str, end: str, name: str = "", days: tuple[int, ...] = EVERY_DAY) -> Shift:
    """A shift, on every day unless said otherwise."""
    return Shift(days=days, start=start, end=end, name=name)


def calendar(*shifts: Shift, **more: object) -> Calendar:
    """A calendar of those shifts."""
    return Calendar(**{"code": "main", "shifts": shifts, **more})  # type: ignore[arg-type]


def hours(calendars: list[Calendar], begin: str, end: str, zone: str = OSLO) -> float:
    """Working hours between two site times."""
    span = parse_instant(begin, zone), parse_instant(end, zone)
    return working_us(working_intervals(calendars, *span, zone), *span) / HOUR_US


# Directive 2000/84/EC, articles 2 and 3; United Kingdom: Summer Time Order 2002 (SI 2002/262).
@pytest.mark.parametrize(
    ("zone", "noon", "next_noon", "expected"),
    [
        ("Europe/Oslo", "2026-10-24T12:00", "2026-10-25T12:00", 9),
        ("Europe/Oslo", "2027-03-27T12:00", "2027-03-28T12:00", 7),
        ("Europe/Oslo", "2026-10-25T12:00", "2026-10-26T12:00", 8),
        ("Europe/London", "2026-10-24T12:00", "2026-10-25T12:00", 9),
        ("Europe/London", "2026-03-28T12:00", "2026-03-29T12:00", 7),
        ("Asia/Kolkata", "2026-10-24T12:00", "2026-10-25T12:00", 8),
    ],
)
def test_the_night_shift_is_as_long_as_the_night(
    zone: str, noon: str, next_noon: str, expected: float
) -> None:
    night = calendar(shift("22:00", "06:00"))

    assert hours([night], noon, next_noon, zone) == expected


def test_three_shifts_fill_a_week_with_a_clock_change_without_gap_or_overlap() -> None:
    three = calendar(
        shift("06:00", "14:00"), shift("14:00", "22:00"), shift("22:00", "06:00", "Night")
    )
    week = week_window("2026-W43", OSLO)

    assert working_intervals([three], *week, OSLO) == (week,)
    assert working_us((week,), *week) == 169 * HOUR_US


def test_without_a_calendar_every_hour_is_worked() -> None:
    assert hours([], "2026-10-24T00:00", "2026-10-26T00:00") == 49
    assert shift_at([], parse_instant("2026-10-24T00:00Z"), OSLO) is None


def test_a_calendar_without_shifts_is_never_worked() -> None:
    assert hours([calendar()], "2026-10-01T00:00", "2026-10-08T00:00") == 0


def test_overlapping_and_touching_shifts_count_once() -> None:
    overlapping = calendar(
        shift("06:00", "14:30"), shift("14:00", "18:00"), shift("18:00", "24:00")
    )
    span = parse_instant("2026-10-01T00:00", OSLO), parse_instant("2026-10-02T06:00", OSLO)

    assert working_intervals([overlapping], *span, OSLO) == (
        (parse_instant("2026-10-01T06:00", OSLO), parse_instant("2026-10-02T00:00", OSLO)),
    )


def test_calendars_of_different_codes_are_worked_together() -> None:
    day, late = (
        calendar(shift("06:00", "14:00")),
        calendar(shift("13:00", "16:00"), code="late"),
    )

    assert hours([day, late], "2026-10-01T00:00", "2026-10-02T00:00") == 10


def test_no_shift_starts_on_a_closed_day_but_the_night_before_is_finished() -> None:
    closing = calendar(shift("22:00", "06:00"), closed=("2026-12-24",))

    assert hours([closing], "2026-12-23T12:00", "2026-12-24T12:00") == 8
    assert hours([closing], "2026-12-24T12:00", "2026-12-25T12:00") == 0


def test_a_new_revision_rules_the_shifts_that_start_from_its_date_on() -> None:
    old = calendar(shift("22:00", "06:00"))
    new = calendar(shift("22:00", "02:00"), effective_from="2026-10-02")

    for order in ([old, new], [new, old]):
        assert hours(order, "2026-10-01T12:00", "2026-10-02T12:00") == 8
        assert hours(order, "2026-10-02T12:00", "2026-10-03T12:00") == 4


def test_before_its_first_revision_a_calendar_is_not_worked() -> None:
    later = calendar(shift("06:00", "14:00"), effective_from="2026-10-02")

    assert hours([later], "2026-10-01T00:00", "2026-10-02T00:00") == 0
    assert hours([later], "2026-10-02T00:00", "2026-10-03T00:00") == 8


def test_of_two_revisions_of_one_date_the_one_recorded_last_rules() -> None:
    first = calendar(shift("06:00", "14:00"), effective_from="2026-10-02")
    last = calendar(shift("06:00", "10:00"), effective_from="2026-10-02")

    assert hours([first, last], "2026-10-02T00:00", "2026-10-03T00:00") == 4


def test_equal_start_and_end_is_a_whole_day() -> None:
    monday = calendar(shift("06:00", "06:00", days=(0,)))

    assert hours([monday], "2026-09-28T00:00", "2026-10-05T00:00") == 24


# Samoa had no Friday 30 December 2011 (tz database, file australasia).
def test_a_date_that_the_zone_skipped_is_not_worked() -> None:
    friday = calendar(shift("06:00", "14:00", days=(4,)))

    worked = hours([friday], "2011-12-26T00:00", "2012-01-02T00:00", "Pacific/Apia")

    assert worked == 0


def test_a_booking_belongs_to_the_shift_that_has_begun() -> None:
    two = calendar(shift("22:00", "06:00", "Night"), shift("06:00", "14:00", "Early"))
    edge = parse_instant("2026-10-01T06:00", OSLO)

    before, at = shift_at([two], edge - 1, OSLO), shift_at([two], edge, OSLO)

    assert before is not None
    assert at is not None
    assert (before[1], before[2]) == (edge, "Night")
    assert (at[0], at[2]) == (edge, "Early")


def test_in_an_overlap_the_crew_taking_over_has_the_shift() -> None:
    two = calendar(shift("06:00", "14:30", "Early"), shift("14:00", "22:00"))

    found = shift_at([two], parse_instant("2026-10-01T14:10", OSLO), OSLO)

    assert found is not None
    assert found[2] == "14:00-22:00"


def test_between_shifts_there_is_none() -> None:
    day = calendar(shift("06:00", "14:00"))

    assert shift_at([day], parse_instant("2026-10-01T14:00", OSLO), OSLO) is None


def test_working_time_of_an_empty_or_turned_span_is_nothing() -> None:
    assert working_intervals([], 5, 5, OSLO) == ()
    assert working_us(((0, 10),), 8, 3) == 0


def wall_minutes() -> st.SearchStrategy[int]:
    """A time of day in steps of a quarter of an hour."""
    return st.integers(0, 95).map(lambda quarter: quarter * 15)


def text_of(minutes: int) -> str:
    """HH:MM."""
    return f"{minutes // 60:02}:{minutes % 60:02}"


@given(
    us=instants(),
    zone=st.sampled_from(ZONES),
    times=st.tuples(wall_minutes(), wall_minutes()),
    days=st.sets(st.integers(0, 6)),
)
def test_a_moment_is_worked_when_the_clock_on_the_wall_says_so(
    us: int, zone: str, times: tuple[int, int], days: set[int]
) -> None:
    one = calendar(shift(text_of(times[0]), text_of(times[1]), days=tuple(days)))
    around = working_intervals([one], us - 50 * HOUR_US, us + 50 * HOUR_US, zone)

    worked = working_us(around, us, us + 1) == 1

    wall = site_time(us, zone)
    if wall.utcoffset() == wall.replace(fold=1 - wall.fold).utcoffset():  # not a repeated hour
        assert worked == wall_says(wall.weekday(), wall.hour * 60 + wall.minute, times, days)
    assert worked == (shift_at([one], us, zone) is not None)


def wall_says(day: int, minute: int, times: tuple[int, int], days: set[int]) -> bool:
    """Whether a shift is on, from the week day and the wall clock alone."""
    start, end = times
    if start < end:
        return day in days and start <= minute < end
    return (day in days and minute >= start) or ((day - 1) % 7 in days and minute < end)


@given(instants(), st.sampled_from(ZONES), st.integers(0, 100), st.integers(0, 100))
def test_working_time_of_two_parts_adds_up(us: int, zone: str, first: int, more: int) -> None:
    one = calendar(shift("06:00", "14:00", days=(0, 1, 2, 3, 4)), shift("22:00", "03:00"))
    middle, end = us + first * HOUR_US, us + (first + more) * HOUR_US
    whole = working_intervals([one], us, end, zone)

    parts = [working_intervals([one], *span, zone) for span in ((us, middle), (middle, end))]

    total = sum(finish - begin for part in parts for begin, finish in part)
    assert working_us(whole, us, end) == total
    assert working_us(whole, us, middle) + working_us(whole, middle, end) == total


def test_intervals_carry_site_time() -> None:
    night = calendar(shift("22:00", "06:00"))
    begin = parse_instant("2026-10-24T12:00", OSLO)

    ((start_us, end_us),) = working_intervals([night], begin, begin + 24 * HOUR_US, OSLO)

    assert iso_text(start_us, OSLO) == "2026-10-24T22:00:00+02:00"
    assert iso_text(end_us, OSLO) == "2026-10-25T06:00:00+01:00"
    assert site_time(end_us, OSLO) - site_time(start_us, OSLO) == timedelta(hours=8)  # the trap

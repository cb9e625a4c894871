"""Site weeks: they tile the time line, whatever the clocks do."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.core.calendar import (
    HOUR_US,
    iso_text,
    parse_instant,
    week_before,
    week_of,
    week_starts_text,
    week_window,
)
from ringwright.core.errors import Refused
from ringwright.core.weeks import DAYS
from tests.make.moments import ZONES, instants

STARTS = st.builds(
    "{} {:02}:{:02}".format, st.sampled_from(DAYS), st.integers(0, 23), st.integers(0, 59)
)


@given(instants(), st.sampled_from(ZONES), STARTS)
def test_every_instant_lies_in_the_week_it_is_named_by(us: int, zone: str, starts: str) -> None:
    start_us, end_us = week_window(week_of(us, zone, starts), zone, starts)

    assert start_us <= us < end_us


@given(instants(), st.sampled_from(ZONES), STARTS)
def test_a_week_ends_where_the_next_begins(us: int, zone: str, starts: str) -> None:
    week = week_of(us, zone, starts)
    start_us, end_us = week_window(week, zone, starts)

    assert week_window(week_before(week, -1), zone, starts)[0] == end_us
    assert week_of(start_us, zone, starts) == week_of(end_us - 1, zone, starts) == week
    assert week_of(end_us, zone, starts) == week_before(week, -1)
    assert week_of(start_us - 1, zone, starts) == week_before(week)


@given(st.integers(1950, 2149), st.integers(1, 52), st.sampled_from(ZONES), STARTS)
def test_a_week_holds_the_noon_of_its_thursday(
    year: int, number: int, zone: str, starts: str
) -> None:
    week = f"{year}-W{number:02}"
    start_us, end_us = week_window(week, zone, starts)

    noon_us = parse_instant(f"{week}-4T12:00", zone)

    assert start_us <= noon_us < end_us


# Oslo, London: Directive 2000/84/EC (last Sundays of March and October); New York: Energy
# Policy Act of 2005, section 110 (second Sunday of March, first of November). Lord Howe's half
# hour and Samoa without a 30 December 2011: tz database, file australasia.
@pytest.mark.parametrize(
    ("week", "zone", "hours"),
    [
        ("2026-W40", "Europe/Oslo", 168),
        ("2026-W43", "Europe/Oslo", 169),
        ("2027-W12", "Europe/Oslo", 167),
        ("2026-W44", "America/New_York", 169),
        ("2026-W10", "America/New_York", 167),
        ("2026-W43", "Asia/Kolkata", 168),
        ("2026-W40", "Australia/Lord_Howe", 167.5),
        ("2026-W14", "Australia/Lord_Howe", 168.5),
        ("2011-W52", "Pacific/Apia", 144),
    ],
)
def test_a_week_is_as_long_as_its_clock_changes_make_it(
    week: str, zone: str, hours: float
) -> None:
    start_us, end_us = week_window(week, zone)

    assert (end_us - start_us) / HOUR_US == hours


def test_weeks_start_on_monday_midnight_unless_the_site_says_otherwise() -> None:
    start_us, end_us = week_window("2026-W40", "Europe/Oslo")

    assert iso_text(start_us, "Europe/Oslo") == "2026-09-28T00:00:00+02:00"
    assert iso_text(end_us, "Europe/Oslo") == "2026-10-05T00:00:00+02:00"


# The noon of Thursday decides; 1 October 2026 is the Thursday of 2026-W40.
@pytest.mark.parametrize(
    ("starts", "first"),
    [
        ("sunday 22:00", "2026-09-27T22:00:00+02:00"),
        ("Mon 06:00", "2026-09-28T06:00:00+02:00"),
        ("thursday 12:00", "2026-10-01T12:00:00+02:00"),
        ("thursday 12:01", "2026-09-24T12:01:00+02:00"),
        ("friday", "2026-09-25T00:00:00+02:00"),
    ],
)
def test_a_week_starts_before_the_noon_of_its_thursday(starts: str, first: str) -> None:
    assert iso_text(week_window("2026-W40", "Europe/Oslo", starts)[0], "Europe/Oslo") == first


# ISO 8601: week 1 holds the year's first Thursday, so 2026, which begins on one, has 53 weeks.
def test_week_53_exists_where_iso_8601_has_one() -> None:
    assert week_of(parse_instant("2027-01-03T23:59:59+01:00"), "Europe/Oslo") == "2026-W53"
    assert week_of(parse_instant("2027-01-04T00:00:00+01:00"), "Europe/Oslo") == "2027-W01"
    assert week_before("2027-W01") == "2026-W53"
    with pytest.raises(Refused, match="not an ISO week"):
        week_window("2027-W53", "Europe/Oslo")


@pytest.mark.parametrize(
    "week", ["", "2026", "2026-40", "2026-W1", "2026-W00", "2026-W54", "2026-w40", "0000-W01"]
)
def test_a_week_that_is_none_is_refused(week: str) -> None:
    with pytest.raises(Refused, match="2026-W40"):
        week_window(week, "UTC")


@pytest.mark.parametrize("week", ["0001-W01", "0001-W02", "1899-W52", "2200-W01", "9999-W52"])
@pytest.mark.parametrize("starts", ["monday", "sunday 22:00"])
def test_a_week_beyond_the_calendar_is_refused(week: str, starts: str) -> None:
    with pytest.raises(Refused, match="outside the calendar"):
        week_window(week, "Europe/Oslo", starts)
    with pytest.raises(Refused, match="outside the calendar"):
        week_before(week, 8)


@pytest.mark.parametrize(
    ("loose", "full"),
    [
        ("monday", "monday 00:00"),
        ("Mon 6:00", "monday 06:00"),
        (" SUNDAY  22:00 ", "sunday 22:00"),
        ("thurs 12:30:00", "thursday 12:30"),
    ],
)
def test_a_week_start_is_read_loosely_and_kept_in_full(loose: str, full: str) -> None:
    assert week_starts_text(loose) == full


@pytest.mark.parametrize(
    "text",
    ["", "m", "someday", "06:00", "monday 24:00", "monday 06:60", "monday at 06:00", "1"],
)
def test_a_week_start_that_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(Refused, match="week_starts"):
        week_starts_text(text)

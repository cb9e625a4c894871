"""Instants: text to microseconds and back, across zones and clock changes."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.core.calendar import iso_text, known_zone, parse_instant, site_time, wall_us
from ringwright.core.errors import Refused
from tests.make.moments import ZONES, instants

MORNING_US = 1_790_827_200_123_456  # 2026-10-01T04:00:00.123456Z


@pytest.mark.parametrize(
    "text",
    [
        "2026-10-01T06:00:00.123456+02:00",
        "2026-10-01 04:00:00.123456Z",
        "2026-10-01t04:00:00,123456z",
        "20261001T040000.123456Z",
        "2026-W40-4T09:30:00.123456+05:30",
        " 2026-10-01T04:00:00.123456789+00:00 ",
    ],
)
def test_one_moment_is_one_number_however_it_is_written(text: str) -> None:
    assert parse_instant(text) == MORNING_US


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("2026-10-01T06:00:00", "no offset"),
        ("2026-10-01", "not an ISO 8601"),
        ("1790827200", "not an ISO 8601"),
        ("yesterday", "not an ISO 8601"),
        ("", "not an ISO 8601"),
        ("2026-10-01x06:00Z", "not an ISO 8601"),
        ("2026-10-01T06:00Z\n2026", "not an ISO 8601"),
        ("2026-13-01T06:00Z", "of the calendar"),
        ("2026-02-29T06:00Z", "of the calendar"),
        ("2026-10-01T25:00Z", "of the calendar"),
        ("2026-10-01T06:00:61Z", "of the calendar"),
        ("2026-10-01T06:00+25:00", "of the calendar"),
        ("0001-01-01T00:00+14:00", "between the years"),
        ("9999-12-31T23:59-12:00", "between the years"),
        ("x" * 20_000, "not an ISO 8601"),
    ],
)
def test_a_time_that_cannot_be_read_is_refused_in_one_short_line(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=why) as refusal:
        parse_instant(text)

    assert "\n" not in str(refusal.value)
    assert len(str(refusal.value)) < 200


def test_without_an_offset_the_zone_decides() -> None:
    assert parse_instant("2026-10-01T06:00:00.123456", "Europe/Oslo") == MORNING_US
    assert parse_instant("2026-10-01T04:00:00.123456Z", "Asia/Kolkata") == MORNING_US


# Directive 2000/84/EC, articles 2 and 3: summer time begins and ends at 01:00 UTC on the last
# Sunday of March and of October.
def test_a_local_time_that_happens_twice_is_the_first() -> None:
    first = parse_instant("2026-10-25T02:30", "Europe/Oslo")

    assert first == parse_instant("2026-10-25T02:30+02:00")
    assert iso_text(first, "Europe/Oslo") == "2026-10-25T02:30:00+02:00"


def test_a_local_time_that_clocks_skip_is_read_with_the_offset_before() -> None:
    skipped = parse_instant("2027-03-28T02:30", "Europe/Oslo")

    assert iso_text(skipped, "Europe/Oslo") == "2027-03-28T03:30:00+02:00"


def test_the_repeated_hour_is_told_apart_by_its_offset() -> None:
    first, second = (parse_instant(f"2026-10-25T0{hour}:30Z") for hour in (0, 1))

    assert iso_text(first, "Europe/Oslo") == "2026-10-25T02:30:00+02:00"
    assert iso_text(second, "Europe/Oslo") == "2026-10-25T02:30:00+01:00"


def test_a_fraction_is_written_only_when_there_is_one() -> None:
    assert iso_text(MORNING_US, "UTC") == "2026-10-01T04:00:00.123456+00:00"
    assert iso_text(MORNING_US - 123_456, "UTC") == "2026-10-01T04:00:00+00:00"


@given(instants(), st.sampled_from(ZONES))
def test_what_is_written_reads_back_to_the_microsecond(us: int, zone: str) -> None:
    assert parse_instant(iso_text(us, zone)) == us


@given(instants(), st.sampled_from(ZONES))
def test_site_time_is_that_of_pandas(us: int, zone: str) -> None:
    theirs = pd.Timestamp(us, unit="us", tz="UTC").tz_convert(zone)

    assert site_time(us, zone).isoformat() == theirs.isoformat()


@given(instants(), st.sampled_from(ZONES), st.integers(1, 48 * 3600))
def test_a_later_wall_time_is_never_an_earlier_instant(us: int, zone: str, later: int) -> None:
    wall = site_time(us, zone).replace(tzinfo=None, microsecond=0)

    assert wall_us(wall, zone) <= wall_us(wall + timedelta(seconds=later), zone)


@given(instants(), st.sampled_from(ZONES))
def test_a_wall_time_is_found_when_the_clock_first_shows_it(us: int, zone: str) -> None:
    wall = site_time(us, zone).replace(tzinfo=None, fold=0)

    first = wall_us(wall, zone)

    assert first <= us
    assert site_time(first, zone).replace(tzinfo=None, fold=0) == wall


def test_a_skipped_wall_time_is_the_moment_of_the_change() -> None:
    change = parse_instant("2027-03-28T01:00Z")

    assert wall_us(datetime(2027, 3, 28, 2, 0), "Europe/Oslo") == change  # noqa: DTZ001
    assert wall_us(datetime(2027, 3, 28, 2, 59, 59), "Europe/Oslo") == change  # noqa: DTZ001
    assert wall_us(datetime(2027, 3, 28, 3, 0), "Europe/Oslo") == change  # noqa: DTZ001


@pytest.mark.parametrize(
    "zone",
    [
        "",
        "Mars/Olympus",
        "Europe",
        "../passwd",
        "/etc/passwd",
        "localtime",
        "right/UTC",
        "a\0b",
    ],
)
def test_a_zone_that_is_no_iana_name_is_refused(zone: str) -> None:
    with pytest.raises(Refused, match="unknown time zone"):
        known_zone(zone)


def test_the_epoch_is_zero() -> None:
    assert site_time(0, "UTC") == datetime(1970, 1, 1, tzinfo=UTC)

"""Working hours of station groups against a count of minutes, across both clock changes.

The reference walks minute by minute in pandas: a UTC range turned into site time by the zone
database. Clock changes: Directive 2000/84/EC, articles 2 and 3. It knows nothing of intervals.
"""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from ringwright.core.instants import HOUR_US, parse_instant
from ringwright.core.shifts import working_intervals, working_us
from ringwright.flow.hours import GroupHours
from ringwright.flow.sheet import read_week_sheet
from ringwright.sites.site import Calendar, Overtime, Shift, Station
from ringwright.sites.toml import calendar_from_data, calendar_to_data
from tests.make.states import CODE, open_states

OSLO = "Europe/Oslo"
ALL, WORKDAYS = tuple(range(7)), tuple(range(5))
ROUND = Calendar(
    code="round",
    shifts=tuple(
        Shift(days=ALL, start=a, end=b)
        for a, b in (("06:00", "14:00"), ("14:00", "22:00"), ("22:00", "06:00"))
    ),
)
FIVE = Calendar(
    code="five",
    shifts=(
        Shift(days=WORKDAYS, start="06:00", end="14:00"),
        Shift(days=WORKDAYS, start="22:00", end="06:00"),
    ),
    closed=("2026-10-23", "2027-03-26"),
    overtime=(
        Overtime(date="2026-10-24", start="22:00", end="04:00", name="extra"),
        Overtime(date="2026-10-23", start="08:00", end="10:30"),
        Overtime(date="2027-03-27", start="23:00", end="05:00"),
        Overtime(date="2026-10-22", start="12:00", end="16:00"),
    ),
)


def counted(calendar: Calendar, begin: str, end: str) -> float:
    """Hours worked between two site times, minute by minute."""
    first_utc, last_utc = (pd.Timestamp(at, tz=OSLO).tz_convert("UTC") for at in (begin, end))
    minutes = pd.date_range(first_utc, last_utc, freq="min", inclusive="left")
    here = minutes.tz_convert(OSLO)
    clock = here.hour * 60 + here.minute
    worked = pd.Series(False, index=range(len(here)))
    days = pd.Series(here.strftime("%Y-%m-%d"))
    before = pd.Series((here.tz_localize(None) - pd.Timedelta(days=1)).strftime("%Y-%m-%d"))
    for start, finish, begins_on in _spans(calendar):
        first, last = _minutes(start), _minutes(finish)
        over_night = last <= first
        today = (clock >= first) & ((clock < last) | over_night)
        worked |= days.map(begins_on) & today
        if over_night:
            worked |= before.map(begins_on) & (clock < last)
    return float(worked.sum()) / 60


def _spans(calendar: Calendar) -> list[tuple[str, str, Any]]:
    def shift_on(shift: Shift) -> Any:
        return lambda day: (
            day not in calendar.closed and pd.Timestamp(day).weekday() in shift.days
        )

    found = [(one.start, one.end, shift_on(one)) for one in calendar.shifts]
    found.extend(
        (one.start, one.end, lambda day, on=one.date: day == on) for one in calendar.overtime
    )
    return found


def _minutes(clock: str) -> int:
    return int(clock[:2]) * 60 + int(clock[3:])


@pytest.mark.parametrize("calendar", [ROUND, FIVE], ids=["round the clock", "five days"])
@pytest.mark.parametrize(
    ("begin", "end"),
    [
        ("2026-10-19T00:00", "2026-11-02T00:00"),
        ("2027-03-22T00:00", "2027-04-05T00:00"),
        ("2026-10-24T21:17", "2026-10-25T05:03"),
        ("2027-03-27T20:41", "2027-03-28T07:09"),
        ("2026-10-22T13:00", "2026-10-23T09:00"),
    ],
)
def test_working_hours_are_those_of_a_count_of_minutes(
    calendar: Calendar, begin: str, end: str
) -> None:
    span = parse_instant(begin, OSLO), parse_instant(end, OSLO)
    ours = working_us(working_intervals([calendar], *span, OSLO), *span) / HOUR_US

    assert ours == pytest.approx(counted(calendar, begin, end), abs=1e-9)
    if calendar is ROUND:
        assert ours == (span[1] - span[0]) / HOUR_US, "three shifts: worked is the clock"


def test_overtime_is_worked_on_a_closed_day_and_once_where_a_shift_works_too() -> None:
    def hours(begin: str, end: str) -> float:
        span = parse_instant(begin, OSLO), parse_instant(end, OSLO)
        return working_us(working_intervals([FIVE], *span, OSLO), *span) / HOUR_US

    # The night of Thursday goes on to 06:00 of the closed Friday.
    assert hours("2026-10-23T00:00", "2026-10-24T00:00") == 6 + 2.5
    # 06:00 to 14:00 and overtime 12:00 to 16:00 overlap by two hours.
    assert hours("2026-10-22T06:00", "2026-10-22T22:00") == 10
    # Saturday 22:00 to Sunday 04:00 by the clock, with the hour that comes twice.
    assert hours("2026-10-24T12:00", "2026-10-25T12:00") == 7


def test_a_calendar_without_overtime_is_on_record_as_before() -> None:
    assert "overtime" not in calendar_to_data(ROUND)
    for calendar in (ROUND, FIVE):
        assert calendar_from_data(calendar_to_data(calendar)) == calendar


def test_each_group_has_the_hours_of_its_stations_and_others_the_sites() -> None:
    span = parse_instant("2026-10-19T00:00", OSLO), parse_instant("2026-10-26T00:00", OSLO)
    hours = GroupHours(
        calendars={"five": (FIVE,), "round": (ROUND,)},
        stations=[
            Station(code="W", group="wash"),
            Station(code="F", group="furnace", calendar="round"),
        ],
        zone=OSLO,
        span=span,
    )

    week = counted(FIVE, "2026-10-19T00:00", "2026-10-26T00:00")
    assert hours.worked_us("furnace", *span) == span[1] - span[0] == 169 * HOUR_US
    for group in ("wash", "W", "no such group", ""):
        assert hours.worked_us(group, *span) / HOUR_US == pytest.approx(week)
    bare = GroupHours(calendars={}, stations=[], zone=OSLO, span=span)
    assert bare.worked_us("any", *span) == span[1] - span[0]


def test_the_steps_of_a_week_are_told_by_the_clock_and_worked(sqlite_url: str) -> None:
    """Of tests/make/states.py: worked 06:00 to 22:00, five days: 80 of the week's 168 hours."""
    ledger = open_states(sqlite_url)
    with ledger.read(CODE) as read:
        sheet = read_week_sheet(read, "2026-W39", "BLADE")
    ledger.store.close()

    (strip,) = sheet.strips
    clean = strip.hours[0]
    # Created 06:30, begun 07:00, ended 07:30: all of it in working time.
    assert (clean.touch, clean.touch_worked, clean.touch_plan) == (0.5, 0.5, 0.5)
    assert (clean.queue, clean.queue_worked, clean.queue_plan) == (0.5, 0.5, 4.0)
    assert clean.queue_plan_worked == pytest.approx(4.0 * 80 / 168)
    # Planned: 0.5 + 2 + 0.5 + 0.1 h of work, and 4 + 4 + 2 + 1 h of waiting.
    assert strip.cycle_time_working_h.plan == pytest.approx(3.1 + 11 * 80 / 168)

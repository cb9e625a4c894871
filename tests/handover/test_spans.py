"""Which shift an instant belongs to, against a walk minute by minute; what may be noted.

The walk knows the wall clock of each minute from the zone database (zoneinfo) and nothing of
the program's arithmetic. Clock changes: Directive 2000/84/EC, articles 2 and 3.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings

from ringwright.core.errors import Clash, Forbidden, Refused
from ringwright.core.instants import HOUR_US, parse_instant
from ringwright.handover.rules import (
    LONGEST_NOTE,
    MOST_NOTES,
    Note,
    Span,
    check_for_role,
    check_taking,
    check_when,
    checked_note,
    span_at,
)
from ringwright.sites.site import Calendar, Shift
from tests.make.moments import instants

OSLO = "Europe/Oslo"
MINUTE_US = HOUR_US // 60
EVERY, WEEKDAYS = tuple(range(7)), tuple(range(5))


def shift(name: str, start: str, end: str, days: tuple[int, ...] = EVERY) -> Shift:
    return Shift(days=days, start=start, end=end, name=name)


THREE = Calendar(
    code="three",
    shifts=(
        shift("early", "06:00", "14:00"),
        shift("late", "14:00", "22:00"),
        shift("night", "22:00", "06:00"),
    ),
)
FIVE_DAYS = Calendar(
    code="five",
    shifts=(
        shift("early", "06:00", "14:00", WEEKDAYS),
        shift("late", "14:00", "22:00", WEEKDAYS),
    ),
    closed=("2026-10-26",),
)


def walked(calendar: Calendar, first: str, days: int) -> list[tuple[int, int, str]]:
    """(start, end, name) of each span, from the wall clock of every minute of some days."""
    begin = datetime.fromisoformat(f"{first}T00:00").replace(tzinfo=ZoneInfo(OSLO))
    at = begin.astimezone(UTC)
    named: list[tuple[int, tuple[str, str]]] = []
    for minute in range(days * 24 * 60):
        moment = at + timedelta(minutes=minute)
        here = moment.astimezone(ZoneInfo(OSLO))
        named.append((int(moment.timestamp()) * 1_000_000, _shift_of(calendar, here)))
    runs = [(key, list(rows)) for key, rows in groupby(named, key=lambda row: row[1])]
    inner = runs[1:-1]  # the first and the last reach beyond what was walked
    return [(rows[0][0], rows[-1][0] + MINUTE_US, key[1]) for key, rows in inner]


def _shift_of(calendar: Calendar, here: datetime) -> tuple[str, str]:
    """(day it began, name) of the shift that a wall clock lies in."""
    clock = here.strftime("%H:%M")
    for one in calendar.shifts:
        over_night = one.end <= one.start
        for day in (here.date(), here.date() - timedelta(days=1)):
            if day.weekday() not in one.days or day.isoformat() in calendar.closed:
                continue
            today = day == here.date()
            inside = one.start <= clock and (over_night or clock < one.end)
            if inside if today else (over_night and clock < one.end):
                return day.isoformat(), one.name
    return "", ""


@pytest.mark.parametrize("calendar", [THREE, FIVE_DAYS], ids=["three shifts", "five days"])
@pytest.mark.parametrize("first", ["2026-10-19", "2027-03-22"])
def test_spans_are_those_of_a_walk_across_both_clock_changes(
    calendar: Calendar, first: str
) -> None:
    found = walked(calendar, first, 14)

    assert len(found) > 15
    for start_us, end_us, name in found:
        expected = Span(start_us=start_us, end_us=end_us, name=name)
        for us in (start_us, (start_us + end_us) // 2, end_us - 1):
            assert span_at([calendar], us, OSLO) == expected
        assert span_at([calendar], end_us, OSLO) != expected


def test_the_night_of_the_clock_change_is_nine_hours_and_seven() -> None:
    for noon, hours in (("2026-10-25T02:30", 9), ("2027-03-28T01:30", 7)):
        span = span_at([THREE], parse_instant(noon, OSLO), OSLO)
        assert (span.end_us - span.start_us) / HOUR_US == hours


@given(instants())
@settings(max_examples=12, deadline=None)
def test_every_instant_has_one_span_and_the_next_begins_where_it_ends(us: int) -> None:
    for calendars in ([THREE], [FIVE_DAYS], []):
        span = span_at(calendars, us, OSLO)
        assert span.start_us <= us < span.end_us
        assert span_at(calendars, span.end_us, OSLO).start_us == span.end_us
        assert span_at(calendars, span.start_us - 1, OSLO).end_us == span.start_us


def test_without_a_calendar_eight_hours_stand_for_a_shift_and_say_so() -> None:
    span = span_at([], parse_instant("2026-11-27T09:30", OSLO), OSLO)

    assert span.thirds
    assert span.end_us - span.start_us == 8 * HOUR_US


def test_where_shifts_overlap_the_crew_taking_over_has_it() -> None:
    long = Calendar(
        code="o", shifts=(shift("a", "06:00", "14:30"), shift("b", "14:00", "22:00"))
    )
    at = parse_instant("2026-11-27T14:10", OSLO)

    assert span_at([long], at, OSLO).name == "b"
    assert span_at([long], parse_instant("2026-11-27T13:00", OSLO), OSLO).end_us == (
        parse_instant("2026-11-27T14:00", OSLO)
    )


def test_a_calendar_that_is_never_worked_still_has_days() -> None:
    span = span_at([Calendar(code="empty")], parse_instant("2026-11-27T14:10", OSLO), OSLO)

    assert (span.end_us - span.start_us, span.name) == (24 * HOUR_US, "")


def test_a_note_keeps_its_lines_and_nothing_that_does_not_print() -> None:
    assert checked_note(" a \r\nb\r c ") == "a\nb\nc"
    for bad in ("", " \n ", "x" * (LONGEST_NOTE + 1), "a\x1b[31m"):
        with pytest.raises(Refused):
            checked_note(bad)
    with pytest.raises(Refused, match="no role"):
        check_for_role("king")


def test_only_a_shift_of_the_last_day_is_written_about() -> None:
    span = Span(start_us=0, end_us=8 * HOUR_US, name="early")

    check_when(span, 0, 0)
    check_when(span, 32 * HOUR_US - 1, MOST_NOTES - 1)
    for now_us, notes in ((-1, 0), (32 * HOUR_US, 0), (0, MOST_NOTES)):
        with pytest.raises(Refused):
            check_when(span, now_us, notes)


def test_a_note_is_taken_by_another_person_of_its_role_once() -> None:
    note = Note(
        number=7, subject="s", shift_us=0, at_us=0, actor="a", text="t", for_role="inspector"
    )

    check_taking(note, "b", frozenset({"inspector"}))
    with pytest.raises(Refused, match="your own"):
        check_taking(note, "a", frozenset({"inspector"}))
    with pytest.raises(Forbidden):
        check_taking(note, "b", frozenset({"maker"}))
    taken = Note(number=7, subject="s", shift_us=0, at_us=0, actor="a", text="t", taken_us=1)
    with pytest.raises(Clash):
        check_taking(taken, "b", frozenset({"maker"}))

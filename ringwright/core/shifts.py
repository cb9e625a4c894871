"""Shifts: when a site works, in instants, true across clock changes.

A shift belongs to the site date on which it starts. The calendar revision in force on that
date decides whether it is worked, so a night shift that began under the old calendar is
finished under it. Revisions share a code; calendars of different codes are worked together.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from typing import Protocol

from ringwright.core.instants import clock_minutes, site_time, wall_us

Interval = tuple[int, int]
"""Start and end, half open, microseconds UTC."""


class ShiftLike(Protocol):
    """Working time on some week days, by the wall clock."""

    @property
    def days(self) -> tuple[int, ...]:
        """Week days on which it starts, Monday 0."""

    @property
    def start(self) -> str:
        """HH:MM."""

    @property
    def end(self) -> str:
        """HH:MM, 24:00 allowed; at or before the start means the next day."""

    @property
    def name(self) -> str:
        """What the shift is called, or empty."""


class OvertimeLike(Protocol):
    """Working time on one date, by the wall clock, on a closed date too."""

    @property
    def date(self) -> str:
        """ISO date on which it starts."""

    @property
    def start(self) -> str:
        """HH:MM."""

    @property
    def end(self) -> str:
        """HH:MM, as a shift's."""

    @property
    def name(self) -> str:
        """What it is called, or empty."""


class CalendarLike(Protocol):
    """A calendar revision: shifts from a date on, less closed days, with overtime."""

    @property
    def code(self) -> str:
        """What its revisions have in common."""

    @property
    def effective_from(self) -> str | None:
        """First ISO date it rules; None: from the beginning."""

    @property
    def shifts(self) -> Sequence[ShiftLike]:
        """The shifts it holds."""

    @property
    def closed(self) -> Sequence[str]:
        """ISO dates on which no shift starts."""

    @property
    def overtime(self) -> Sequence[OvertimeLike]:
        """Working time beyond the shifts."""


def working_intervals(
    calendars: Sequence[CalendarLike], start_us: int, end_us: int, zone: str
) -> tuple[Interval, ...]:
    """When the site works within the span: ascending, merged; all of it without calendars."""
    if start_us >= end_us:
        return ()
    if not calendars:
        return ((start_us, end_us),)
    clipped = (
        (max(begin, start_us), min(finish, end_us))
        for begin, finish, _ in shifts_near(calendars, start_us, end_us, zone)
    )
    return _merged(sorted(span for span in clipped if span[0] < span[1]))


def working_us(intervals: Sequence[Interval], start_us: int, end_us: int) -> int:
    """Working microseconds between two instants, given ascending disjoint intervals."""
    total = 0
    first = bisect_right(intervals, start_us, key=lambda interval: interval[1])
    for place in range(first, len(intervals)):
        begin, finish = intervals[place]
        if begin >= end_us:
            break
        total += max(0, min(finish, end_us) - max(begin, start_us))
    return total


def shift_at(
    calendars: Sequence[CalendarLike], us: int, zone: str
) -> tuple[int, int, str] | None:
    """The shift worked at that instant: start, end, name; None outside any.

    Where shifts overlap it is the one that started last: the crew taking over.
    """
    near = shifts_near(calendars, us, us, zone)
    return max((s for s in near if s[0] <= us < s[1]), default=None, key=lambda s: s[0])


def shifts_between(
    calendars: Sequence[CalendarLike], start_us: int, end_us: int, zone: str
) -> tuple[tuple[int, int, str], ...]:
    """The shifts worked within the span, cut so that none overlap: start, end, name.

    Every instant has the shift that `shift_at` gives it, or none.
    """
    found = sorted(shifts_near(calendars, start_us, end_us, zone), key=lambda s: s[:2])
    edges = sorted(
        {start_us, end_us}
        | {edge for begin, finish, _ in found for edge in (begin, finish)
           if start_us < edge < end_us}
    )  # fmt: skip
    spans: list[tuple[int, int, str]] = []
    first = 0
    for begin, finish in pairwise(edges):
        while first < len(found) and found[first][1] <= begin:
            first += 1
        last = bisect_right(found, begin, lo=first, key=lambda s: s[0])
        there = [s for s in found[first:last] if begin < s[1]]
        if there:
            spans.append((begin, finish, max(there, key=lambda s: s[0])[2]))
    return tuple(spans)


def shifts_near(
    calendars: Sequence[CalendarLike], start_us: int, end_us: int, zone: str
) -> tuple[tuple[int, int, str], ...]:
    """Every shift that could touch the span, uncut: start, end, name; some lie outside it."""
    return tuple(_shifts_near(calendars, start_us, end_us, zone))


def _shifts_near(
    calendars: Sequence[CalendarLike], start_us: int, end_us: int, zone: str
) -> Iterator[tuple[int, int, str]]:
    """Every shift that could touch the span, from whatever site date it starts on."""
    by_code: dict[str, list[CalendarLike]] = {}
    for calendar in calendars:
        by_code.setdefault(calendar.code, []).append(calendar)
    # Two days back: a shift lasts up to a day, and a zone may skip a whole date.
    day = site_time(start_us, zone).date() - timedelta(days=2)
    last = site_time(end_us, zone).date()
    while day <= last:
        for revisions in by_code.values():
            yield from _shifts_of(_in_force(revisions, day), day, zone)
        day += timedelta(days=1)


def _in_force(revisions: Sequence[CalendarLike], day: date) -> CalendarLike | None:
    begun = [r for r in revisions if (r.effective_from or "") <= day.isoformat()]
    # Of two with one date the later in the list rules: it was recorded last.
    return max(reversed(begun), key=lambda r: r.effective_from or "", default=None)


def _shifts_of(
    calendar: CalendarLike | None, day: date, zone: str
) -> Iterator[tuple[int, int, str]]:
    if calendar is None:
        return
    midnight, date_ = datetime.combine(day, time()), day.isoformat()
    worked: list[ShiftLike | OvertimeLike] = [
        extra for extra in calendar.overtime if extra.date == date_
    ]
    if date_ not in calendar.closed:
        worked += [shift for shift in calendar.shifts if day.weekday() in shift.days]
    for shift in worked:
        begin, finish = clock_minutes(shift.start), clock_minutes(shift.end)
        if finish <= begin:
            finish += 24 * 60
        start_us = wall_us(midnight + timedelta(minutes=begin), zone)
        end_us = wall_us(midnight + timedelta(minutes=finish), zone)
        yield start_us, end_us, shift.name or f"{shift.start}-{shift.end}"


def _merged(spans: Sequence[Interval]) -> tuple[Interval, ...]:
    merged: list[Interval] = []
    for begin, finish in spans:
        if merged and begin <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], finish))
        else:
            merged.append((begin, finish))
    return tuple(merged)

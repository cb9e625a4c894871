"""Weeks of a site: where they begin, end, and what ISO week they are called by."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Final

from ringwright.core.errors import Refused
from ringwright.core.instants import YEARS, clock_minutes, clock_text, site_time, wall_us

DAYS: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

_WEEK: Final = re.compile(r"([0-9]{4})-W([0-9]{2})")
_THURSDAY: Final = 4
_NOON: Final = 12 * 60


def week_window(week: str, zone: str, week_starts: str = "monday 00:00") -> tuple[int, int]:
    """Start and end of a site week, half open, in microseconds UTC.

    It is the site week that contains the noon of that ISO week's Thursday.
    """
    return _window(_thursday(week), zone, week_starts)


def week_of(us: int, zone: str, week_starts: str = "monday 00:00") -> str:
    """The name of the site week that the instant falls in, such as 2026-W40."""
    thursday = _thursday_of(site_time(us, zone).date())
    # A week may begin up to half a week either side of the ISO week it is named by.
    for days in (0, -7, 7):
        candidate = thursday + timedelta(days=days)
        start_us, end_us = _window(candidate, zone, week_starts)
        if start_us <= us < end_us:
            return _name(candidate)
    raise AssertionError(f"no site week holds {us} in {zone}")  # weeks tile the time line


def week_before(week: str, weeks: int = 1) -> str:
    """The week so many weeks earlier; a negative count gives a later one."""
    return _name(_thursday(week) - timedelta(weeks=weeks))


@lru_cache(maxsize=64)
def parse_week_starts(text: str) -> tuple[int, int]:
    """Day (Monday 0) and minutes after midnight of texts such as "Mon 06:00" or "sunday"."""
    words = text.split()
    try:
        day = parse_day(words[0]) if 1 <= len(words) <= 2 else None
        minutes = clock_minutes(words[1]) if len(words) == 2 else 0
    except ValueError:
        day, minutes = None, 0
    if day is None or minutes >= 24 * 60:
        raise Refused(f"week_starts {text[:40]!r} is not a day and time such as monday 06:00")
    return day, minutes


def week_starts_text(text: str) -> str:
    """The same start in full: "Mon 6:00" is "monday 06:00"."""
    day, minutes = parse_week_starts(text)
    return f"{DAYS[day]} {clock_text(minutes)}"


def parse_day(text: str) -> int:
    """Monday 0 to Sunday 6 of a day's name or its first letters (three or more)."""
    word = text.strip().lower()
    for number, name in enumerate(DAYS):
        if len(word) >= 3 and name.startswith(word):
            return number
    raise ValueError(f"{text[:40]!r} is not a day of the week")


def _thursday(week: str) -> date:
    found = _WEEK.fullmatch(week)
    try:
        if found is None:
            raise ValueError
        thursday = date.fromisocalendar(int(found[1]), int(found[2]), _THURSDAY)
    except ValueError:
        raise Refused(f"{week[:40]!r} is not an ISO week; write it as 2026-W40") from None
    if thursday.year not in YEARS:
        raise Refused(f"week {week} is outside the calendar: {YEARS[0]} to {YEARS[-1]}")
    return thursday


def _thursday_of(day: date) -> date:
    year, week, _ = day.isocalendar()
    return date.fromisocalendar(year, week, _THURSDAY)


def _name(thursday: date) -> str:
    year, week, _ = thursday.isocalendar()
    return f"{year:04}-W{week:02}"


@lru_cache(maxsize=1024)
def _window(thursday: date, zone: str, week_starts: str) -> tuple[int, int]:
    day, minutes = parse_week_starts(week_starts)
    back = (thursday.weekday() - day) % 7
    if back == 0 and minutes > _NOON:
        back = 7
    start = datetime.combine(thursday, time()) + timedelta(days=-back, minutes=minutes)
    return wall_us(start, zone), wall_us(start + timedelta(days=7), zone)

"""Instants: moments as whole microseconds UTC, read from text and shown in site time.

Inside, a moment is an int of microseconds since 1970-01-01T00:00Z. Two zone-aware datetimes
of one zone subtract by the wall clock in Python, an hour wrong across a clock change, so no
duration is ever taken from datetimes here.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from ringwright.core.errors import Refused

SECOND_US: Final = 1_000_000
HOUR_US: Final = 3600 * SECOND_US
YEARS: Final = range(1900, 2200)
"""Years that the record knows: far enough for any part, short of where dates run out."""

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_ISO_TIME: Final = re.compile(r"[0-9]{4}[0-9W-]*[T ][0-9:.,]+(Z|[+-][0-9:]+)?")
_CLOCK: Final = re.compile(r"([0-9]{1,2}):([0-9]{2})(:00)?")
# Files of the zone database that say another thing on each machine, or count leap seconds.
_NOT_A_PLACE: Final = ("localtime", "posixrules", "Factory", "right/", "posix/")


@lru_cache(maxsize=64)
def known_zone(zone: str) -> ZoneInfo:
    """The time zone of that IANA name, such as Europe/Oslo; any other name is refused."""
    if zone and not zone.startswith(_NOT_A_PLACE):
        try:
            return ZoneInfo(zone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            pass
    raise Refused(f"unknown time zone {_shown(zone)}; give an IANA name such as Europe/Oslo")


def parse_instant(text: str, zone: str | None = None) -> int:
    """Microseconds UTC of an ISO 8601 date and time with an offset, or in `zone` without one.

    Without an offset, a time that happens twice when clocks go back is the first of the two,
    and one that clocks skip is read with the offset before the change (both: fold 0).
    Raises ValueError in one line. Digits beyond the microsecond are cut off.
    """
    upper = text.strip().upper()
    if _ISO_TIME.fullmatch(upper) is None:
        raise ValueError(f"{_shown(text)} is not an ISO 8601 date and time")
    try:
        moment = datetime.fromisoformat(upper)
    except ValueError:
        raise ValueError(f"{_shown(text)} is not a date and time of the calendar") from None
    if moment.year not in YEARS:
        raise ValueError(f"{_shown(text)} is not between the years 1900 and 2199")
    if moment.tzinfo is None:
        if zone is None:
            raise ValueError(f"{_shown(text)} has no offset from UTC, such as +02:00 or Z")
        moment = moment.replace(tzinfo=known_zone(zone))
    return _us(moment)


def midnight_us(day: str, zone: str) -> int:
    """When a day begins at a place, in microseconds UTC; `day` is an ISO date."""
    return parse_instant(f"{day}T00:00:00", zone)


def iso_text(us: int, zone: str) -> str:
    """The instant in site time with its offset; a fraction only when there is one."""
    return site_time(us, zone).isoformat()


def site_time(us: int, zone: str) -> datetime:
    """What calendar and clock of the site show at that instant."""
    return (_EPOCH + timedelta(microseconds=us)).astimezone(known_zone(zone))


@lru_cache(maxsize=4096)
def wall_us(wall: datetime, zone: str) -> int:
    """The instant at which the site's clock first shows `wall`, so that later is never earlier.

    A time that happens twice is the first of the two; a time that clocks skip is the moment
    of the change, since no shift or week can begin or end in between.
    """
    place = known_zone(zone)
    first = _us(wall.replace(tzinfo=place, fold=0))
    second = _us(wall.replace(tzinfo=place, fold=1))
    if second >= first:
        return first
    low, high = second, first  # within a skipped stretch: the change lies in (low, high]
    while high - low > 1:
        middle = (low + high) // 2
        if site_time(middle, zone).replace(tzinfo=None) < wall:
            low = middle
        else:
            high = middle
    return high


def clock_minutes(text: str) -> int:
    """Minutes after midnight of a wall-clock time, 00:00 to 24:00; else ValueError."""
    found = _CLOCK.fullmatch(text.strip())
    if found is not None:
        minutes = int(found[1]) * 60 + int(found[2])
        if minutes <= 24 * 60 and int(found[2]) < 60:
            return minutes
    raise ValueError(f"{_shown(text)} is not a time of day such as 06:00")


def clock_text(minutes: int) -> str:
    """HH:MM of minutes after midnight."""
    return f"{minutes // 60:02}:{minutes % 60:02}"


def _us(moment: datetime) -> int:
    since = moment - _EPOCH
    return (since.days * 86_400 + since.seconds) * SECOND_US + since.microseconds


def _shown(text: str) -> str:
    return repr(text if len(text) <= 60 else text[:60] + "…")

"""Working hours: instants laid on the time that is worked, by calendar or as learned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any, Final

import numpy as np

from ringwright.core.calendar import HOUR_US, Interval, site_time, wall_us
from ringwright.outlook.record import Floats, Ints

SLOT_US: Final = HOUR_US // 2
"""Begins are counted in half hours."""
_SLOTS_A_DAY: Final = 48
_ENOUGH: Final = 6
"""Begins an hour of one weekday from which its own hours are believed."""
_SHARE: Final = 0.1
"""An hour is worked where it has this share of the begins of a usual worked hour."""


@dataclass(frozen=True, slots=True)
class Worked:
    """How many working hours have gone at an instant, since some first one."""

    edges_us: Ints
    gone_h: Floats

    def hours(self, us: Any) -> Any:
        """Working hours gone at instants [us UTC]; flat outside the span that was laid."""
        return np.interp(us, self.edges_us, self.gone_h)


def worked_of(intervals: Sequence[Interval]) -> Worked:
    """The axis of ascending, disjoint working intervals."""
    if not intervals:
        return Worked(np.zeros(2, dtype=np.int64), np.zeros(2))
    edges = np.array(intervals, dtype=np.int64)
    spans = (edges[:, 1] - edges[:, 0]) / HOUR_US
    ends = np.cumsum(spans)
    return Worked(edges.ravel(), np.column_stack((ends - spans, ends)).ravel())


def learned_intervals(
    begins: Mapping[int, int], start_us: int, end_us: int, zone: str
) -> tuple[Interval, ...]:
    """When the site works, learned from how many visits began in each half hour.

    `begins` has the half hour's first instant [us UTC]. A weekday on which none began was
    closed, an hour too where next to none did; a weekday the record never saw counts as
    worked. Without begins every hour counts.
    """
    if not begins:
        return ((start_us, end_us),) if start_us < end_us else ()
    counts = np.zeros((7, _SLOTS_A_DAY))
    for us, number in begins.items():
        wall = site_time(us, zone)
        counts[wall.weekday(), wall.hour * 2 + wall.minute // 30] += number
    return _laid(_worked_hours(counts, _unseen(begins, zone)), start_us, end_us, zone)


def _unseen(begins: Mapping[int, int], zone: str) -> list[int]:
    """Weekdays that lie outside the record's span."""
    day, last = site_time(min(begins), zone).date(), site_time(max(begins), zone).date()
    if (last - day).days >= 6:
        return []
    seen = {(day + timedelta(days=n)).weekday() for n in range((last - day).days + 1)}
    return [weekday for weekday in range(7) if weekday not in seen]


def _worked_hours(counts: Floats, unseen: list[int]) -> list[list[bool]]:
    """Whether each hour of each weekday is worked."""
    hourly = counts.reshape(7, 24, 2).sum(axis=2)
    days = [day for day in range(7) if hourly[day].any()]
    pooled = hourly.sum(axis=0) / max(len(days), 1)
    found = []
    for day in range(7):
        if day in unseen:
            found.append(_busy(pooled))
        elif not hourly[day].any():
            found.append([False] * 24)
        else:
            own = hourly[day].sum() / 24 >= _ENOUGH
            found.append(_busy(hourly[day] if own else np.maximum(pooled, hourly[day])))
    return found


def _busy(hours: Floats) -> list[bool]:
    usual = np.median(hours[hours > 0]) if hours.any() else 0.0
    return [bool(begun > 0 and begun >= _SHARE * usual) for begun in hours]


def _laid(
    worked: list[list[bool]], start_us: int, end_us: int, zone: str
) -> tuple[Interval, ...]:
    """The week's pattern laid along the span by the site's clock, joined where it touches."""
    spans: list[Interval] = []
    day = site_time(start_us, zone).date() - timedelta(days=1)
    last = site_time(end_us, zone).date()
    while day <= last:
        midnight = datetime.combine(day, time())
        for first, after in _runs(worked[day.weekday()]):
            begin = max(wall_us(midnight + timedelta(hours=first), zone), start_us)
            finish = min(wall_us(midnight + timedelta(hours=after), zone), end_us)
            if begin >= finish:
                continue
            if spans and spans[-1][1] == begin:
                begin = spans.pop()[0]
            spans.append((begin, finish))
        day += timedelta(days=1)
    return tuple(spans)


def _runs(hours: list[bool]) -> list[tuple[int, int]]:
    """First and one past the last of each run of worked hours."""
    edges = [h for h in range(25) if (h > 0 and hours[h - 1]) != (h < 24 and hours[h])]
    return list(zip(edges[::2], edges[1::2], strict=True))


def weeks_back(us: int, weeks: int, zone: str) -> int:
    """The same weekday and clock time so many weeks before; a negative count gives later."""
    return days_on(us, -7 * weeks, zone)


def days_on(us: int, days: int, zone: str) -> int:
    """The same clock time so many days later."""
    return wall_us(site_time(us, zone).replace(tzinfo=None) + timedelta(days=days), zone)

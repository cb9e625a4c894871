"""When the invented factory is manned, asked moment by moment and never to an end."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from typing import Final

from ringwright.core.calendar import HOUR_US, shift_at, site_time, working_intervals
from ringwright.sites.site import Calendar

Span = tuple[int, int]
_STRETCH_US: Final = 28 * 24 * HOUR_US


class Hours:
    """Manned spans of a calendar, worked out stretch by stretch as time goes on.

    What it answers about a moment never depends on how far the simulation is asked to run.
    """

    def __init__(self, calendars: Sequence[Calendar], zone: str, start_us: int) -> None:
        self._calendars, self._zone = tuple(calendars), zone
        self._begins: list[int] = []
        self._ends: list[int] = []
        self._known_to_us = start_us
        self._now: Span = (0, 0)
        """The manned span asked about last."""
        self._turns: dict[int, tuple[int, int]] = {}

    def is_open(self, us: int) -> bool:
        """True while the factory is manned."""
        if self._now[0] <= us < self._now[1]:
            return True
        place = self._place(us)
        if place < 0 or us >= self._ends[place]:
            return False
        self._now = (self._begins[place], self._ends[place])
        return True

    def next_open(self, us: int) -> int:
        """The moment itself when manned, else when people next come."""
        if self.is_open(us):
            return us
        place = self._place(us)
        return self._begins[place + 1]

    def last_open(self, us: int) -> int:
        """The moment itself when manned, else when people left last."""
        place = self._place(us)
        return us if us < self._ends[place] else self._ends[place]

    def opening(self, us: int) -> int:
        """When the manned span that holds this moment, or begins then, began."""
        return self._begins[self._place(us)]

    def closing(self, us: int) -> int:
        """When the people who are here, or come next, leave."""
        if self.is_open(us):
            return self._now[1]
        return self._ends[self._place(self.next_open(us))]

    def spans(self, us: int, work_us: int) -> list[Span]:
        """The manned spans that so much work takes, begun at that moment or the next open."""
        us = self.next_open(us)
        place = self._place(us)
        found: list[Span] = []
        while True:
            finish = min(self._ends[place], us + work_us)
            found.append((us, finish))
            work_us -= finish - us
            if work_us <= 0:
                return found
            place += 1
            us = self._begins[place]
            self._place(us)

    def turn(self, us: int) -> tuple[int, int]:
        """The crew on shift, 0 to 2 with a weekly change, and when its shift ends."""
        hour = us // HOUR_US
        if hour not in self._turns:
            shift = shift_at(self._calendars, hour * HOUR_US, self._zone)
            begin, finish = shift[:2] if shift else (hour * HOUR_US, (hour + 1) * HOUR_US)
            local = site_time(begin, self._zone)
            crew = (local.hour // 8 + local.isocalendar().week) % 3
            self._turns[hour] = (crew, finish)
        return self._turns[hour]

    def _place(self, us: int) -> int:
        """Place of the last span that begins at or before the moment, -1 before all."""
        while len(self._begins) < 3 or self._begins[-3] <= us:
            self._stretch()
        return bisect_right(self._begins, us) - 1

    def _stretch(self) -> None:
        start_us, end_us = self._known_to_us, self._known_to_us + _STRETCH_US
        for begin, finish in working_intervals(self._calendars, start_us, end_us, self._zone):
            if self._ends and begin == self._ends[-1]:
                self._ends[-1] = finish
            else:
                self._begins.append(begin)
                self._ends.append(finish)
        self._known_to_us = end_us

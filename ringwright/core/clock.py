"""What time it is now, asked in one place so that tests and demos can set it."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Protocol

from ringwright.core.instants import parse_instant


class Clock(Protocol):
    """Something that tells the present instant."""

    def now_us(self) -> int:
        """The present instant, microseconds UTC."""


class SystemClock:
    """The machine's clock."""

    def now_us(self) -> int:
        """The present instant, microseconds UTC."""
        return time.time_ns() // 1000


@dataclass
class FixedClock:
    """A clock that stands still until somebody sets `at_us`."""

    at_us: int

    def now_us(self) -> int:
        """The instant it was set to, microseconds UTC."""
        return self.at_us


def clock_from(now: str | None) -> Clock:
    """A clock fixed at an ISO 8601 time with offset (RINGWRIGHT_NOW); else the machine's."""
    return FixedClock(parse_instant(now)) if now else SystemClock()

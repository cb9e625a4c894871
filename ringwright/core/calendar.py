"""The site's calendar and clock in one place: instants, weeks and shifts.

The rules live in `instants`, `weeks` and `shifts`; rooms import them from here.
"""

from ringwright.core.instants import (
    HOUR_US,
    SECOND_US,
    iso_text,
    known_zone,
    parse_instant,
    site_time,
    wall_us,
)
from ringwright.core.shifts import (
    Interval,
    shift_at,
    shifts_between,
    working_intervals,
    working_us,
)
from ringwright.core.weeks import week_before, week_of, week_starts_text, week_window

__all__ = [
    "HOUR_US",
    "SECOND_US",
    "Interval",
    "iso_text",
    "known_zone",
    "parse_instant",
    "shift_at",
    "shifts_between",
    "site_time",
    "wall_us",
    "week_before",
    "week_of",
    "week_starts_text",
    "week_window",
    "working_intervals",
    "working_us",
]

"""The day the demo is first loaded: what is to stand there to be seen, planned back from it.

The story goes on from its seed whenever it is told. Only what should be seen on the first day
hangs on that day: a survey that failed last night, a furnace run under way, one that waits for
its review, one held, a cleaned blade whose window is nearly over. All of it is worked out from
the one moment, so that the story told on later begins with the same facts.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from ringwright.core.calendar import HOUR_US, site_time, wall_us
from ringwright.sites.site import SiteFile
from seed_demo.hours import Hours, Span

MINUTE_US: Final = HOUR_US // 60
DAY_US: Final = 24 * HOUR_US
RUNS, FAILS = "INF-1", "INF-2"
"""The furnace that runs on that day, and the one whose survey fails in the night before."""
LONGEST_RUN_US: Final = 12 * HOUR_US + 20 * MINUTE_US
UNDER_WAY_US: Final = 4 * HOUR_US + 36 * MINUTE_US
"""How long before that moment the run is to be loaded: it then holds, and is inflated."""
LEAST_BEFORE_CLOSING_US: Final = 3 * HOUR_US + 12 * MINUTE_US
NIGHT: Final = (2, 50)
"""When a furnace is surveyed, site time: it has stood empty and cold for some hours."""
EMPTY_US: Final = 13 * HOUR_US
"""A furnace takes no load so long before its survey."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What is planned around the day the demo is first loaded [us]."""

    shown_us: int
    survey_us: int
    """The survey that fails."""
    drifts_us: int
    """From when on a zone of the furnace that will fail it ages."""
    last_run: Span
    """A run of that furnace begun in here is its last before the survey, and goes wrong."""
    kept_free: Span
    """While the other furnace waits, so that it is loaded at the end of it."""
    not_done_us: int
    """The run that it is loaded with then is not ended by hand before this."""
    early: Span
    """While a blade is cleaned that will wait too long."""
    eager: Span

    @property
    def reviewed(self) -> Span:
        """Runs that end in here wait for their review until that moment is over."""
        return (self.kept_free[0] - 9 * HOUR_US, self.shown_us)

    @property
    def kept_back(self) -> Span:
        """A blade whose cleaning ends in here has little of its 24 hours left that day."""
        return (self.shown_us - 1425 * MINUTE_US, self.shown_us - 1325 * MINUTE_US)

    @property
    def held(self) -> Span:
        """What is stopped in here is sentenced after that moment."""
        return (self.shown_us - 9 * DAY_US // 2, self.shown_us)

    @property
    def mended_us(self) -> int:
        """When people begin to think of surveying the furnace again."""
        return self.survey_us + 50 * HOUR_US


def plan_shown(site: SiteFile, shown_us: int) -> Shown:
    """Plan back from that moment."""
    shown_us -= shown_us % MINUTE_US
    hours = Hours(site.calendars, site.zone, shown_us - 15 * DAY_US)
    survey_us = last_night(shown_us, site.zone)
    empty_us = empty_from(hours, survey_us)
    begins_us, not_done_us = _under_way(hours, shown_us)
    return Shown(
        shown_us=shown_us,
        survey_us=survey_us,
        drifts_us=empty_us - 9 * DAY_US,
        last_run=(empty_us - 24 * HOUR_US, empty_us),
        kept_free=(begins_us - LONGEST_RUN_US, begins_us),
        not_done_us=not_done_us,
        early=(shown_us - 1445 * MINUTE_US, shown_us - 1370 * MINUTE_US),
        eager=(shown_us - 4 * HOUR_US, shown_us + 2 * HOUR_US),
    )


def last_night(us: int, zone: str) -> int:
    """When a survey was taken in the night before that moment."""
    local = site_time(us - 90 * MINUTE_US, zone).replace(tzinfo=None)
    night = local.replace(hour=NIGHT[0], minute=NIGHT[1], second=0, microsecond=0)
    if night > local:
        night -= timedelta(days=1)
    return wall_us(night, zone)


def empty_from(hours: Hours, survey_us: int) -> int:
    """From when on a furnace takes no load, to be empty for its survey."""
    return hours.last_open(survey_us) - EMPTY_US


def _under_way(hours: Hours, shown_us: int) -> tuple[int, int]:
    """When the run that is to be seen is loaded, and before when it is not ended."""
    wanted = shown_us - UNDER_WAY_US
    if hours.is_open(wanted) and hours.closing(wanted) - wanted >= LEAST_BEFORE_CLOSING_US:
        return wanted, 0
    if not hours.is_open(shown_us):
        return hours.last_open(shown_us) - LEAST_BEFORE_CLOSING_US, 0
    opening = hours.opening(shown_us)
    if shown_us - opening >= 2 * HOUR_US:
        return opening + 80 * MINUTE_US, 0
    # People have just come in: what went in before they left is not taken out yet.
    before = hours.last_open(opening - 1) - LEAST_BEFORE_CLOSING_US
    return before, shown_us + 20 * MINUTE_US

"""The runs of a week on a ruler: instants in, coordinates out. Pure; nothing here knows HTML.

Across, a coordinate is a share of the week in per cent; down it is in CSS pixels.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from itertools import pairwise
from typing import Final

from ringwright.core.calendar import Interval, site_time, wall_us
from ringwright.furnaces.rules import ABORTED, FINISHED, FOR_REVIEW, HELD, RUNNING, Run
from ringwright.kit.charts import Scale

NEEDS: Final = frozenset({FINISHED, FOR_REVIEW, HELD, ABORTED})
"""States in which somebody has to hand in readings, look, or decide."""
LINE_Y, BAR, NUMBER_Y, WORD_Y, HEIGHT = 30, 16, 64, 80, 86
"""The ruler's line, the height of a bar on it, where its words stand, the whole."""
LETTER: Final = 0.95
"""A letter's width [%] in a picture about as wide as a desk's."""
LEAST: Final = 0.35
"""A run is never drawn narrower than this [%]."""
MINUTE_US: Final = 60_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One run: a bar that hangs from the line while it runs, and stands on it afterwards."""

    run: Run
    number: str
    """The run's number without its furnace and noughts."""
    x: float
    width: float
    needs: bool
    rest: float = 0.0
    """Width [%] of what is left of the planned cycle behind it; 0 where nothing is."""
    named: bool = False
    """True where there is room for its number and its state under it."""

    @property
    def middle(self) -> float:
        """Where its words stand."""
        return round(self.x + self.width / 2, 2)

    @property
    def end(self) -> float:
        """Where it ends."""
        return round(self.x + self.width, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """A day of the week: its middle and its width, and an instant to name it by."""

    x: float
    width: float
    at_us: int
    today: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """The week across."""

    days: tuple[Day, ...]
    midnights: tuple[float, ...]
    now: float | None
    """None outside the week."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """One furnace's week."""

    bars: tuple[Bar, ...]
    working: tuple[tuple[float, float], ...]
    """From where to where its station works."""


def draw_axis(start_us: int, end_us: int, now_us: int, zone: str) -> Axis:
    """The days of a week, each by the site's clock."""
    across = Scale(start_us, end_us, 0.0, 100.0)
    edges = [start_us, *_midnights(start_us, end_us, zone), end_us]
    days = tuple(
        Day(
            x=across((begin + end) / 2),
            width=round(across(end) - across(begin), 2),
            at_us=(begin + end) // 2,
            today=begin <= now_us < end,
        )
        for begin, end in pairwise(edges)
        if end > begin
    )
    inside = start_us <= now_us < end_us
    return Axis(
        days=days,
        midnights=tuple(across(edge) for edge in edges[1:-1]),
        now=across(now_us) if inside else None,
    )


def _midnights(start_us: int, end_us: int, zone: str) -> list[int]:
    day = site_time(start_us, zone).date()
    found = []
    for _ in range(16):
        day += timedelta(days=1)
        found.append(wall_us(datetime.combine(day, time()), zone))
    return [us for us in found if start_us < us < end_us]


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """What every ruler of a page is drawn within."""

    start_us: int
    end_us: int
    now_us: int
    planned: Mapping[tuple[str, str], float | None]
    """Recipe and revision to planned minutes."""
    words: Mapping[str, str]
    """State to its word in the reader's language."""


def draw_ruler(runs: Sequence[Run], working: Sequence[Interval], week: Week) -> Ruler:
    """One furnace's runs, the oldest first; words stand where they do not run together."""
    across = Scale(week.start_us, week.end_us, 0.0, 100.0)
    bars = [_bar(run, across, week) for run in runs]
    room = [_reach(bar, week) for bar in bars]
    named: list[int] = []
    # What needs a person is named first, then what runs, then the rest from the newest on.
    order = sorted(
        range(len(bars)),
        key=lambda n: (not bars[n].needs, bars[n].run.state != RUNNING, -n),
    )
    for place in order:
        if all(_apart(room[place], room[other]) for other in named):
            named.append(place)
    return Ruler(
        bars=tuple(replace(bar, named=place in named) for place, bar in enumerate(bars)),
        working=tuple((across(begin), across(end)) for begin, end in working),
    )


def _bar(run: Run, across: Scale, week: Week) -> Bar:
    began = max(run.started_us or week.start_us, week.start_us)
    until = week.now_us if run.ended_us is None else run.ended_us
    x = across(began)
    end = across(min(max(until, began), week.end_us))
    width = round(max(end - x, LEAST), 2)
    return Bar(
        run=run,
        number=run.code.rpartition("-")[2].lstrip("0") or run.code,
        x=min(x, round(100.0 - width, 2)),
        width=width,
        needs=run.state in NEEDS,
        rest=_rest(run, across, week, x + width),
    )


def _rest(run: Run, across: Scale, week: Week, from_x: float) -> float:
    plan = week.planned.get((run.recipe, run.revision))
    if run.state != RUNNING or plan is None or run.started_us is None:
        return 0.0
    planned_us = run.started_us + round(plan * MINUTE_US)
    return max(0.0, round(across(min(planned_us, week.end_us)) - from_x, 2))


def _reach(bar: Bar, week: Week) -> tuple[float, float]:
    """From where to where its words would reach."""
    letters = max(len(bar.number), len(week.words[bar.run.state]))
    half = max(letters * LETTER, bar.width) / 2
    return bar.middle - half, bar.middle + half


def _apart(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return one[1] + LETTER < other[0] or other[1] + LETTER < one[0]

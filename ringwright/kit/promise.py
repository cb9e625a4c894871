"""The promise line: a week's output less its pace over working time, as coordinates."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from ringwright.core.instants import site_time, wall_us
from ringwright.core.shifts import working_us
from ringwright.kit.charts import Scale, whole_ticks

Interval = tuple[int, int]

FOURTHS_ABOVE = 100
"""Above so many parts a week only every fourth step is drawn."""
LEAST_LABEL = 4.0
"""A day narrower than this share of the picture [%] goes without its name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseFigures:
    """What a strip is drawn from."""

    releases_us: tuple[int, ...]
    working: tuple[Interval, ...]
    start_us: int
    end_us: int
    now_us: int
    target: float | None
    zone: str
    output: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """A day of the strip: its middle and its width [%], and an instant to name it by."""

    x: float
    width: float
    at_us: int
    today: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A row of the table beside the picture: output, pace and their difference by then."""

    at_us: int
    output: int
    pace: float | None
    difference: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A scale figure and where it stands [px]."""

    y: float
    value: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseDrawing:
    """One strip. Across in per cent, down in pixels; `ink` is for a box 1000 wide."""

    height: int
    zero_y: float
    ink: str
    now_x: float
    now_y: float
    deviation: float
    proof: bool
    midnights: tuple[float, ...]
    days: tuple[Day, ...]
    ticks: tuple[Tick, ...]
    every: int
    table: tuple[Standing, ...]


class WorkingTime:
    """Where instants stand with closed hours cut out; a week all closed is not cut."""

    def __init__(self, figures: PromiseFigures) -> None:
        whole = ((figures.start_us, figures.end_us),)
        total = working_us(figures.working, figures.start_us, figures.end_us)
        self.intervals = figures.working if total else whole
        self.start_us = figures.start_us
        self.total_us = total or figures.end_us - figures.start_us

    def share(self, us: int) -> float:
        """Working time gone by then, of the week's whole."""
        if us <= self.start_us:
            return 0.0
        return min(1.0, working_us(self.intervals, self.start_us, us) / self.total_us)


def draw_promise(figures: PromiseFigures, height: int) -> PromiseDrawing:
    """The strip of one product in one week, `height` pixels tall."""
    time = WorkingTime(figures)
    last_us = min(max(figures.now_us, figures.start_us), figures.end_us)
    every = 4 if max(figures.target or 0, figures.output) > FOURTHS_ABOVE else 1
    corners = _corners(figures, time, last_us, every)
    lowest = min(y for _, y in corners)
    highest = max(y for _, y in corners)
    pad = max(0.25, (highest - lowest) * 0.12)
    low, high = min(lowest - pad, -0.5), max(highest + pad, 0.5)
    down = Scale(high, low, 6.0, height - 6.0)
    deviation = corners[-1][1]
    return PromiseDrawing(
        height=height,
        zero_y=down(0.0),
        ink=" ".join(f"{1000 * x:.1f},{down(y):.1f}" for x, y in corners),
        now_x=round(100 * time.share(last_us), 2),
        now_y=down(deviation),
        deviation=deviation,
        # A whole part owed, after the rounding that the reader sees.
        proof=figures.target is not None and round(deviation, 1) <= -1.0,
        midnights=tuple(day.x for day in _midnights(figures, time)),
        days=_days(figures, time),
        ticks=tuple(Tick(y=down(v), value=v) for v in whole_ticks(low, high, height // 38 + 1)),
        every=every,
        table=_table(figures, time, last_us),
    )


def _corners(
    figures: PromiseFigures, time: WorkingTime, last_us: int, every: int
) -> list[tuple[float, float]]:
    """The ink as (share of the week, output less pace), two corners a release drawn."""
    target = figures.target or 0.0
    inside = [us for us in figures.releases_us if figures.start_us <= us < figures.end_us]
    known = inside[: bisect_right(inside, last_us)]
    corners = [(0.0, 0.0)]
    drawn = 0
    for number, us in enumerate(known, start=1):
        if number % every and number != len(known):
            continue
        x = time.share(us)
        corners.append((x, drawn - target * x))
        corners.append((x, number - target * x))
        drawn = number
    x = time.share(last_us)
    corners.append((x, len(known) - target * x))
    return corners


def _day_starts(figures: PromiseFigures) -> list[int]:
    """Midnights of the site within the week."""
    day = site_time(figures.start_us, figures.zone).date()
    starts: list[int] = []
    while True:
        at_us = wall_us(datetime(day.year, day.month, day.day), figures.zone)  # noqa: DTZ001
        if at_us >= figures.end_us:
            return starts
        if at_us > figures.start_us:
            starts.append(at_us)
        day += timedelta(days=1)


def _midnights(figures: PromiseFigures, time: WorkingTime) -> list[Day]:
    seen: list[Day] = []
    for at_us in _day_starts(figures):
        x = round(100 * time.share(at_us), 2)
        if 0 < x < 100 and (not seen or seen[-1].x != x):
            seen.append(Day(x=x, width=0.0, at_us=at_us))
    return seen


def _days(figures: PromiseFigures, time: WorkingTime) -> tuple[Day, ...]:
    edges: Sequence[int] = [figures.start_us, *_day_starts(figures), figures.end_us]
    days = []
    for start_us, end_us in pairwise(edges):
        left, right = 100 * time.share(start_us), 100 * time.share(end_us)
        if right - left >= LEAST_LABEL:
            middle = round((left + right) / 2, 2)
            today = start_us <= figures.now_us < end_us
            width = round(right - left, 2)
            days.append(Day(x=middle, width=width, at_us=start_us, today=today))
    return tuple(days)


def _table(figures: PromiseFigures, time: WorkingTime, last_us: int) -> tuple[Standing, ...]:
    """The same figures as the ink, at each midnight and at the last moment drawn."""
    moments = [at_us for at_us in _day_starts(figures) if at_us < last_us]
    return tuple(_standing(figures, time, at_us) for at_us in (*moments, last_us))


def _standing(figures: PromiseFigures, time: WorkingTime, at_us: int) -> Standing:
    output = sum(figures.start_us <= us <= at_us for us in figures.releases_us)
    if figures.target is None:
        return Standing(at_us=at_us, output=output, pace=None, difference=None)
    pace = figures.target * time.share(at_us)
    return Standing(at_us=at_us, output=output, pace=pace, difference=output - pace)

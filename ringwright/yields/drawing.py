"""Geometry of the Yield page: ladder, stile, threads, marks on the outline, p-chart. Pure.

Across in per cent of each picture's width, down in pixels; the outline has its own box.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.kit.charts import IntervalBar, Scale, draw_interval, whole_ticks
from ringwright.parts.outline import Outline
from ringwright.yields.model import Mark, Reasons, StepYield, Trend

ROW: Final = 33
"""Height of one step [px]; the style sheet has the same."""
SHAPES: Final = (
    "circle", "square", "cross", "triangle", "plus", "bar", "dash", "diamond", "dot",
)  # fmt: skip
"""By rank of the causing step; the last serves all further ones."""
MARKS_BY_TENS: Final = 400
SPACING: Final = 14.0
CAUSED_X, FOUND_X = 30.0, 72.0


def row_y(place: int) -> float:
    """The middle of a row [px]."""
    return place * ROW + ROW / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A scale figure [%] and where it stands [% of the width, or px down]."""

    at: float
    value: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """Dot and posts of each step, and the stile that steps in by the rolled yield."""

    height: int
    bars: tuple[IntervalBar | None, ...]
    ticks: tuple[Tick, ...]
    rungs: tuple[float, ...]
    stile: str
    """Points for a box 1000 wide."""
    stile_ticks: tuple[Tick, ...]
    end_x: float | None
    end_y: float


def draw_ladder(steps: Sequence[StepYield]) -> Ladder:
    """The ladder of a route's steps, from the first down."""
    lows = [step.first_pass.low for step in steps if step.first_pass.low is not None]
    floor = math.floor(min(lows, default=0.0) * 20) / 20
    rolls = [step.rolled for step in steps if step.rolled is not None]
    base = min(0.9, math.floor(min(rolls, default=0.9) * 10 - 0.5) / 10)
    base = max(0.0, base)
    across = Scale(base, 1.0, 0.0, 100.0)
    rungs, points, x = [], [(100.0, 0.0)], 100.0
    for place, step in enumerate(steps):
        y = row_y(place)
        points.append((x, y))
        x = across(step.rolled) if step.rolled is not None else x
        points.append((x, y))
        rungs.append(x)
    height = len(steps) * ROW
    points.append((x, height))
    return Ladder(
        height=height,
        bars=tuple(
            draw_interval(s.first_pass.value, s.first_pass.low, s.first_pass.high, floor)
            for s in steps
        ),
        ticks=_ticks(floor, 4),
        rungs=tuple(rungs),
        stile=" ".join(f"{10 * x:.1f},{y:.1f}" for x, y in points),
        stile_ticks=_ticks(base, 3),
        end_x=x if rolls else None,
        end_y=height,
    )


def _ticks(floor: float, most: int) -> tuple[Tick, ...]:
    scale = Scale(floor, 1.0, 0.0, 100.0)
    marks = [100 - back for back in whole_ticks(0, round(100 - 100 * floor), most)]
    return tuple(Tick(at=scale(value / 100), value=value) for value in sorted(marks))


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreadLine:
    """One thread: where it begins and ends [px], how wide, whether it needs a person."""

    from_y: float
    to_y: float
    width: float
    needs: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """A count beside a row; where nothing is written there is none."""

    y: float
    parts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Threads:
    """Threads from the step that caused to the step that found; both sides add up alike."""

    height: int
    lines: tuple[ThreadLine, ...]
    caused: tuple[End, ...]
    found: tuple[End, ...]
    total: int
    unnamed: bool
    """True when a last row stands for steps that were not recorded."""
    unnamed_y: float
    caused_x: float = CAUSED_X
    found_x: float = FOUND_X
    caused_text_x: float = CAUSED_X - 5
    found_text_x: float = FOUND_X + 5


def draw_threads(reasons: Reasons, steps: Sequence[StepYield], worst: int | None) -> Threads:
    """The threads of one page; a step that no route lists falls to the last row too."""
    rows = {step.number: place for place, step in enumerate(steps)}
    last = len(steps)
    most = max((thread.parts for thread in reasons.threads), default=1)

    def y(step: int | None) -> float:
        return row_y(rows.get(step, last) if step is not None else last)

    lines, caused, found = [], dict[float, int](), dict[float, int]()
    for thread in reversed(reasons.threads):
        from_y, to_y = y(thread.caused), y(thread.found)
        width = round(1.2 + 6.8 * (thread.parts - 1) / max(most - 1, 7), 1)
        needs = worst is not None and thread.caused == worst
        lines.append(ThreadLine(from_y=from_y, to_y=to_y, width=width, needs=needs))
        caused[from_y] = caused.get(from_y, 0) + thread.parts
        found[to_y] = found.get(to_y, 0) + thread.parts
    unnamed = row_y(last) in (caused | found)
    return Threads(
        height=(last + (1 if unnamed else 0)) * ROW,
        lines=tuple(sorted(lines, key=lambda line: line.needs)),
        caused=tuple(End(y=at, parts=parts) for at, parts in sorted(caused.items())),
        found=tuple(End(y=at, parts=parts) for at, parts in sorted(found.items())),
        total=reasons.total,
        unnamed=unnamed,
        unnamed_y=row_y(last),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One mark on the outline."""

    x: float
    y: float
    shape: str
    needs: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Spots:
    """The marks on the outline, and how many parts one mark is."""

    spots: tuple[Spot, ...]
    each: int


def shapes_of(reasons: Reasons) -> dict[int | None, str]:
    """A shape for each causing step, most parts first."""
    return {
        step: SHAPES[min(rank, len(SHAPES) - 1)]
        for rank, (step, _) in enumerate(reasons.by_caused)
    }


def draw_spots(reasons: Reasons, outline: Outline, worst: int | None) -> Spots:
    """Each part where its defect lay, packed round the middle of its zone."""
    shapes = shapes_of(reasons)
    each = 10 if reasons.total > MARKS_BY_TENS else 1
    spots: list[Spot] = []
    for zone in outline.zones:
        own = [mark for mark in reasons.marks if mark.zone == zone.name]
        causes = [mark.caused for mark in own for _ in range(_drawn(mark, each))]
        for (x, y), caused in zip(_packed(len(causes), zone.width), causes, strict=True):
            needs = worst is not None and caused == worst
            at = (round(zone.x + x, 1), round(zone.y + y, 1))
            spots.append(Spot(x=at[0], y=at[1], shape=shapes[caused], needs=needs))
    return Spots(spots=tuple(spots), each=each)


def _drawn(mark: Mark, each: int) -> int:
    return max(1, round(mark.parts / each))


def _packed(count: int, width: float) -> list[tuple[float, float]]:
    """So many places in rows round (0, 0), closer together where there are many."""
    spacing = SPACING if count <= 40 else SPACING * 0.75
    across = max(1, int(width // spacing))
    rows = [min(across, count - first) for first in range(0, count, across)]
    top = -(len(rows) - 1) * spacing / 2
    return [
        ((place - (length - 1) / 2) * spacing, top + number * spacing)
        for number, length in enumerate(rows)
        for place in range(length)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """One week: where its dot stands, and what is said of it."""

    x: float
    y: float | None
    week: int
    outside: bool
    small: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """A p-chart: a dot a week, its limits in steps, the centre as a line."""

    height: int
    box_height: int
    """With the names of the weeks under it."""
    points: tuple[ChartPoint, ...]
    ink: str
    lower: tuple[str, ...]
    upper: tuple[str, ...]
    centre_y: float | None
    divide_x: float
    """Where the window begins."""
    ticks: tuple[Tick, ...]


CHART_HEIGHT: Final = 170


def draw_chart(trend: Trend) -> Chart:
    """A trend as a p-chart; lines are for a box 1000 wide."""
    points = trend.points
    values = [p.share.value for p in points if p.share.value is not None]
    lows = [p.lower for p in points if p.lower is not None]
    floor = math.floor(min([*values, *lows], default=0.0) * 10) / 10
    down = Scale(floor, 1.0, CHART_HEIGHT - 8.0, 10.0)
    wide = 100 / len(points)
    drawn = [
        ChartPoint(
            x=round((place + 0.5) * wide, 2),
            y=None if point.share.value is None else down(point.share.value),
            week=int(point.week[-2:]),
            outside=point.outside,
            small=point.share.small,
        )
        for place, point in enumerate(points)
    ]
    centre = trend.centre.value
    before = sum(not point.in_window for point in points)
    return Chart(
        height=CHART_HEIGHT,
        box_height=CHART_HEIGHT + 24,
        points=tuple(drawn),
        ink=" ".join(f"{10 * p.x:.1f},{p.y:.1f}" for p in drawn if p.y is not None),
        lower=_limit([point.lower for point in points], wide, down),
        upper=_limit([point.upper for point in points], wide, down),
        centre_y=None if centre is None else down(centre),
        divide_x=round(before * wide, 2),
        ticks=tuple(
            Tick(at=down(value / 100), value=value)
            for value in sorted(100 - b for b in whole_ticks(0, round(100 - 100 * floor), 4))
        ),
    )


def _limit(values: Sequence[float | None], wide: float, down: Scale) -> tuple[str, ...]:
    """A level line over each week that has a limit."""
    return tuple(
        " ".join(f"{10 * (place + end) * wide:.1f},{down(value):.1f}" for end in (0, 1))
        for place, value in enumerate(values)
        if value is not None
    )


def share_widths(counts: Sequence[tuple[object, int]]) -> tuple[float, ...]:
    """Lengths of the bars of a Pareto list, in per cent of the longest."""
    most = max((parts for _, parts in counts), default=1)
    return tuple(round(100 * parts / most, 1) for _, parts in counts)

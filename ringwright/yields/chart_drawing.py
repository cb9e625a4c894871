"""Geometry of a control chart with its signals. Pure.

Across in per cent of the picture's width, down in pixels, as in `drawing.py`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from ringwright.kit.charts import Scale, whole_ticks
from ringwright.yields.charting import Control, Dot
from ringwright.yields.drawing import Tick

HEIGHT: Final = 230
NAMED: Final = 9
"""So many points have their name under them where there are more than MOST_NAMED."""
MOST_NAMED: Final = 20
CROWDED: Final = 120
"""From so many points on they are drawn small, and no line ties them."""
APART: Final = 4.0
"""Balloons stand so many per cent of the width apart; a later one stands for its neighbours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A point as drawn; `rank` is its balloon where it signals and is told by itself."""

    x: float
    y: float | None
    dot: Dot
    named: bool
    rank: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlDrawing:
    """The picture of a chart; lines are for a box 1000 wide."""

    height: int
    box_height: int
    marks: tuple[Mark, ...]
    ink: str
    limits: tuple[str, ...]
    centre_y: float | None
    divide_x: float
    ticks: tuple[Tick, ...]
    crowded: bool


def draw_control(control: Control) -> ControlDrawing:
    """A dot for each point, its limits in steps, the centre as a line."""
    dots = control.dots
    floor, top = _ends(control)
    down = Scale(floor, top, HEIGHT - 8.0, 14.0)
    wide = 100 / max(len(dots), 1)
    every = 1 if len(dots) <= MOST_NAMED else math.ceil(len(dots) / NAMED)
    ranks = _ranks(control, wide)
    crowded = len(dots) >= CROWDED
    marks = tuple(
        Mark(
            x=round((place + 0.5) * wide, 2),
            y=None if dot.value is None else down(dot.value),
            dot=dot,
            named=place % every == 0,
            rank=ranks.get(place),
        )
        for place, dot in enumerate(dots)
    )
    centre = control.centre
    return ControlDrawing(
        height=HEIGHT,
        box_height=HEIGHT + 24,
        marks=marks,
        ink=""
        if crowded
        else " ".join(f"{10 * m.x:.1f},{m.y:.1f}" for m in marks if m.y is not None),
        limits=_limits(dots, wide, down),
        centre_y=None if centre is None else down(centre),
        divide_x=round(sum(not dot.in_window for dot in dots) * wide, 2),
        ticks=_ticks(control, down),
        crowded=crowded,
    )


def _ranks(control: Control, wide: float) -> dict[int, int]:
    """Place of a point to its balloon, the latest first where they would stand too close."""
    places = [place for place, dot in enumerate(control.dots) if dot.broken]
    own = list(enumerate(places[-len(control.named) :], start=1)) if places else []
    found: dict[int, int] = {}
    last = float("inf")
    for rank, place in reversed(own):
        if (last - place) * wide >= APART or len(control.dots) < CROWDED:
            found[place] = rank
            last = place
    return found


def _ends(control: Control) -> tuple[float, float]:
    """Foot and top of the picture: hours from nought on, shares up to all of them."""
    if control.in_hours:
        values = [v for dot in control.dots for v in (dot.value, dot.upper) if v is not None]
        return 0.0, max(values, default=0.0) or 1.0
    values = [v for dot in control.dots for v in (dot.value, dot.lower) if v is not None]
    floor = math.floor(min(values, default=0.0) * 10) / 10
    return min(floor, 0.9), 1.0


def _ticks(control: Control, down: Scale) -> tuple[Tick, ...]:
    if control.in_hours:
        return tuple(Tick(at=down(n), value=n) for n in whole_ticks(0, down.high, 5))
    lost = whole_ticks(0, round(100 - 100 * down.low), 5)
    return tuple(Tick(at=down(n / 100), value=n) for n in sorted(100 - b for b in lost))


def _limits(dots: tuple[Dot, ...], wide: float, down: Scale) -> tuple[str, ...]:
    """A level line over each point for each of its limits."""
    return tuple(
        " ".join(f"{10 * (place + end) * wide:.1f},{down(value):.1f}" for end in (0, 1))
        for place, dot in enumerate(dots)
        for value in (dot.lower, dot.upper)
        if value is not None
    )

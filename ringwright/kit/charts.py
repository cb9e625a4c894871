"""Geometry of pictures: figures in, coordinates out. Pure; nothing here knows HTML.

Across, a coordinate is a share of the picture's width in per cent, so that one drawing serves
every screen; down it is in CSS pixels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight line from figures to coordinates."""

    low: float
    high: float
    at_low: float
    at_high: float

    def __call__(self, value: float) -> float:
        """The coordinate of a figure, to a hundredth."""
        if self.high == self.low:
            return round((self.at_low + self.at_high) / 2, 2)
        share = (value - self.low) / (self.high - self.low)
        return round(self.at_low + share * (self.at_high - self.at_low), 2)


def whole_ticks(low: float, high: float, most: int) -> tuple[int, ...]:
    """Whole figures from low to high in steps of 1, 2 or 5 times a power of ten; 0 is one."""
    span = max(high - low, 1.0)
    step = 1
    while span / step > most:
        step = _next_step(step)
    return tuple(range(math.ceil(low / step) * step, math.floor(high / step) * step + 1, step))


def _next_step(step: int) -> int:
    lead = int(str(step)[0])
    return step * {1: 2, 2: 5, 5: 2}[lead] if lead != 2 else step // 2 * 5


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalBar:
    """Dot and posts of a proportion, in per cent of the bar's width."""

    dot: float
    low: float
    high: float


def draw_interval(
    value: float | None, low: float | None, high: float | None, floor: float
) -> IntervalBar | None:
    """Where dot and posts stand on a bar that runs from `floor` to 1; None without a value."""
    if value is None or low is None or high is None:
        return None
    scale = Scale(floor, 1.0, 0.0, 100.0)
    return IntervalBar(dot=scale(value), low=scale(low), high=scale(high))


def interval_floor(lows: Sequence[float | None]) -> float:
    """Where interval bars begin: the lowest post, down to the next whole tenth."""
    known = [low for low in lows if low is not None]
    return math.floor(min(known) * 10) / 10 if known else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Post:
    """A limit of a ruler and the text under it."""

    x: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A hatched stretch of a ruler."""

    x: float
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerDrawing:
    """One characteristic of one part, as drawn at the Bench."""

    span_from: float
    span_to: float
    posts: tuple[Post, ...]
    guards: tuple[Band, ...]
    nominal: float | None
    pointer: float | None
    outside: bool
    past: tuple[float, ...]


LOWER_POST = 12.0
UPPER_POST = 88.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerFigures:
    """What a ruler is drawn from; `texts` are the limits as a person reads them."""

    lower: float | None
    upper: float | None
    nominal: float | None = None
    guard: float = 0.0
    value: float | None = None
    past: tuple[float, ...] = ()
    lower_text: str = ""
    upper_text: str = ""


def draw_ruler(figures: RulerFigures) -> RulerDrawing:
    """The ruler of one reading: every ruler has its posts at the same place."""
    low, high = _ruler_ends(figures)
    scale = Scale(low, high, LOWER_POST, UPPER_POST)
    posts = []
    guards = []
    if figures.lower is not None:
        posts.append(Post(x=LOWER_POST, text=figures.lower_text))
        guards.append((LOWER_POST, scale(figures.lower + figures.guard)))
    if figures.upper is not None:
        posts.append(Post(x=UPPER_POST, text=figures.upper_text))
        guards.append((scale(figures.upper - figures.guard), UPPER_POST))
    return RulerDrawing(
        span_from=LOWER_POST if figures.lower is not None else 0.0,
        span_to=UPPER_POST if figures.upper is not None else 100.0,
        posts=tuple(posts),
        guards=tuple(Band(x=a, width=round(b - a, 2)) for a, b in guards if b > a),
        nominal=None if figures.nominal is None else _on_paper(scale(figures.nominal)),
        pointer=None if figures.value is None else _on_paper(scale(figures.value)),
        outside=_is_outside(figures),
        past=tuple(_on_paper(scale(value)) for value in figures.past),
    )


def _ruler_ends(figures: RulerFigures) -> tuple[float, float]:
    """The figures at the two posts; with one limit only, the readings give the other end."""
    known = [*figures.past]
    known += [v for v in (figures.value, figures.nominal) if v is not None]
    if figures.lower is not None and figures.upper is not None:
        return figures.lower, figures.upper
    if figures.lower is not None:
        return figures.lower, max([*known, figures.lower + (abs(figures.lower) or 1.0) * 0.1])
    if figures.upper is not None:
        return min([*known, figures.upper - (abs(figures.upper) or 1.0) * 0.1]), figures.upper
    return (min(known), max(known)) if known else (0.0, 1.0)


def _is_outside(figures: RulerFigures) -> bool:
    if figures.value is None:
        return False
    below = figures.lower is not None and figures.value < figures.lower
    return below or (figures.upper is not None and figures.value > figures.upper)


def _on_paper(x: float) -> float:
    """A mark far outside the limits stands at the end of the rail, past its post."""
    return min(98.0, max(2.0, x))

"""Lines of a picture: readings as a path of few letters, their words at its end kept apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ringwright.heat.thinning import thinned
from ringwright.heat.trace import Floats
from ringwright.kit.charts import Scale

WIDE: Final = 1000
"""Width of the box that a path is drawn in; it is stretched to the picture's."""
HALF: Final = 2
"""Down, a path's whole numbers are half pixels."""

Wholes = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The stretch of time that a picture shows."""

    from_s: float
    to_s: float

    @property
    def span_s(self) -> float:
        """Its length, never nothing."""
        return max(self.to_s - self.from_s, 1.0)


def path_of(
    at_s: Floats, values: Floats, window: Window, down: Scale, buckets: int
) -> tuple[str, float | None]:
    """The path of one channel within the window, and where its last reading stands [px].

    `at_s` (n,) rises; `values` (n,) NaN where nothing was read: there the line breaks. The
    highest and the lowest reading of each of `buckets` stretches stay, to half a pixel.
    """
    begin, end = np.searchsorted(at_s, [window.from_s, window.to_s + 1e-6])
    if begin == end:
        return "", None
    thin_s, thin = thinned(at_s[begin:end], values[begin:end], buckets)
    x = np.rint((thin_s - window.from_s) / window.span_s * WIDE)
    share = (thin - down.low) / (down.high - down.low)
    y = np.rint(HALF * (down.at_low + share * (down.at_high - down.at_low)))
    read = np.flatnonzero(np.isfinite(y))
    if not read.size:
        return "", None
    pieces = _pieces(x, y)
    return "".join(pieces), float(y[read[-1]]) / HALF


def _pieces(x: Floats, y: Floats) -> list[str]:
    """Each unbroken stretch as a move and the steps from there."""
    known = np.isfinite(y)
    ends = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(np.int8)))
    return [
        _stretch(x[begin:end].astype(np.int64), y[begin:end].astype(np.int64))
        for begin, end in zip(ends[::2], ends[1::2], strict=True)
    ]


def _stretch(x: Wholes, y: Wholes) -> str:
    x, y = _fewer(x, y)
    if x.size == 1:
        # A lone reading: a dot, by its round ends.
        return f"M{x[0]} {y[0]}h0"
    steps = np.stack([np.diff(x), np.diff(y)], axis=1).ravel().tolist()
    return f"M{x[0]} {y[0]}l{' '.join(map(str, steps))}"


def _fewer(x: Wholes, y: Wholes) -> tuple[Wholes, Wholes]:
    """Without points that change nothing: repeated ones, and those amid a straight stroke."""
    fresh = np.concatenate([[True], (np.diff(x) != 0) | (np.diff(y) != 0)])
    x, y = x[fresh], y[fresh]
    if x.size < 3:
        return x, y
    dx, dy = np.diff(x), np.diff(y)
    level = (dy[:-1] == 0) & (dy[1:] == 0)
    upright = (dx[:-1] == 0) & (dx[1:] == 0) & (np.sign(dy[:-1]) == np.sign(dy[1:]))
    kept = np.concatenate([[True], ~(level | upright), [True]])
    return x[kept], y[kept]


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Places as near as may be to those wanted, each `apart` from the next, low to high.

    Where there is no room for all they stand evenly.
    """
    if not wanted:
        return []
    step = min(apart, (high - low) / max(len(wanted) - 1, 1))
    order = sorted(range(len(wanted)), key=lambda place: (wanted[place], place))
    groups: list[tuple[float, int]] = []
    for place in order:
        groups.append(_held(wanted[place], 1, step, (low, high)))
        while len(groups) > 1 and _touch(groups[-2], groups[-1], step):
            (a, n), (b, m) = groups[-2:]
            groups[-2:] = [_held((a * n + b * m) / (n + m), n + m, step, (low, high))]
    found = [0.0] * len(wanted)
    places = iter(order)
    for middle, count in groups:
        for number in range(count):
            found[next(places)] = round(middle + (number - (count - 1) / 2) * step, 1)
    return found


def _touch(a: tuple[float, int], b: tuple[float, int], step: float) -> bool:
    return b[0] - a[0] < step * (a[1] + b[1]) / 2 - 1e-9


def _held(
    middle: float, count: int, step: float, ends: tuple[float, float]
) -> tuple[float, int]:
    reach = step * (count - 1) / 2
    return min(max(middle, ends[0] + reach), ends[1] - reach), count

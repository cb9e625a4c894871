"""How fast a channel went: least-squares slopes over five minutes.

A window begins at a sample and ends at the one nearest to five minutes later, but spans half of
that at least; of samples further apart than that, two make a window. Only whole windows within
the segment count; where it is shorter than one, all of it is the window.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ringwright.heat.trace import Floats

WINDOW_S: Final = 300.0
FEWEST: Final = 2


def steepest_per_min(at_s: Floats, read: Floats, step_s: float) -> tuple[float, int] | None:
    """(size of the steepest slope [1/min], place where its window begins) of one channel.

    `at_s` (n,) are the times of one segment, `read` (n,) its readings, blanks NaN; `step_s` is
    the median interval. None where no window has two readings.
    """
    begin, end = windows(at_s, step_s)
    slopes = slopes_per_min(at_s, read, begin, end)
    if not slopes.size or np.isnan(slopes).all():
        return None
    sizes = np.abs(slopes)
    place = int(np.nanargmax(sizes))
    return float(sizes[place]), int(begin[place])


def windows(at_s: Floats, step_s: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First and last sample of each window."""
    size = at_s.size
    if size < FEWEST:
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
    begin = np.flatnonzero(at_s + WINDOW_S <= at_s[-1] + step_s / 2)
    if not begin.size:
        return np.array([0]), np.array([size - 1])
    wanted = at_s[begin] + WINDOW_S
    above = np.clip(np.searchsorted(at_s, wanted), 1, size - 1)
    nearer_below = wanted - at_s[above - 1] <= at_s[above] - wanted
    end = np.where(nearer_below, above - 1, above)
    short = at_s[end] - at_s[begin] < WINDOW_S / 2
    end = np.minimum(np.where(short, np.maximum(end, begin) + 1, end), size - 1)
    whole = end > begin
    return begin[whole], end[whole]


def slopes_per_min(
    at_s: Floats, read: Floats, begin: NDArray[np.intp], end: NDArray[np.intp]
) -> Floats:
    """(w,) least-squares slope [1/min] of each window; NaN where half of it is blank.

    slope = (n Σty - Σt Σy) / (n Σt² - (Σt)²), by running sums from the segment's own middle.
    """
    known = np.isfinite(read)
    if not known.any():
        return np.full(begin.size, np.nan)
    minutes = (at_s - at_s.mean()) / 60.0
    value = np.where(known, read - np.mean(read[known]), 0.0)
    minutes_known = np.where(known, minutes, 0.0)
    terms = (known.astype(float), minutes_known, value, minutes_known**2, minutes_known * value)
    count, t, y, tt, ty = (_between(term, begin, end) for term in terms)
    spread = count * tt - t * t
    enough = (count >= FEWEST) & (2 * count >= end - begin + 1) & (spread > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(enough, (count * ty - t * y) / spread, np.nan)


def _between(term: Floats, begin: NDArray[np.intp], end: NDArray[np.intp]) -> Floats:
    total = np.concatenate([[0.0], np.cumsum(term)])
    difference: Floats = total[end + 1] - total[begin]
    return difference

"""A channel thinned for drawing, so that no peak, dip or gap is lost on the way to the screen.

Of each column of pixels the first and the last reading are kept, the least and the greatest:
a line through those covers the same pixels as a line through all (U. Jugel, Z. Jerzak,
G. Hackenbroich & V. Markl, M4: a visualization-oriented time series data aggregation,
Proceedings of the VLDB Endowment 7 (2014) 797).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ringwright.heat.trace import Floats


def thinned(at_s: Floats, values: Floats, buckets: int) -> tuple[Floats, Floats]:
    """Times and readings to draw: at most about four for each of `buckets` equal stretches.

    `at_s` (n,) rises [s]; `values` (n,) are the readings at those times, NaN (or infinite)
    where there is none. `buckets` is the width of the drawing in pixels. Each reading that
    comes back stood at that time, in the order of time. Where a blank stood between two that
    come back, one blank comes back between them, and the times of both ends are kept: the
    line breaks where the recorder did.

    ValueError: fewer than one bucket, or arrays of different lengths.
    """
    if buckets < 1 or at_s.shape != values.shape or at_s.ndim != 1:
        raise ValueError("thinning wants at least one bucket, and a reading for each time")
    read = np.flatnonzero(np.isfinite(values))
    if values.size <= 4 * buckets or not read.size:
        read_or_ends = np.arange(values.size) if values.size <= 4 * buckets else _ends(values)
        return at_s[read_or_ends], values[read_or_ends]
    kept = read[_extremes(_bucket(at_s, buckets)[read], values[read])]
    places = np.union1d(np.union1d(kept, _breaks(values, kept)), _ends(values))
    return at_s[places], np.where(np.isfinite(values[places]), values[places], np.nan)


def _ends(values: Floats) -> NDArray[np.intp]:
    return np.array([0, values.size - 1], dtype=np.intp)


def _bucket(at_s: Floats, buckets: int) -> NDArray[np.intp]:
    """The pixel that each time falls on."""
    pixels: NDArray[np.intp] = ((at_s - at_s[0]) * buckets / (at_s[-1] - at_s[0])).astype(
        np.intp
    )
    return np.minimum(pixels, buckets - 1)


def _extremes(bucket: NDArray[np.intp], values: Floats) -> NDArray[np.intp]:
    """Places of the first, last, least and greatest of each bucket; of equals the first."""
    begins = np.flatnonzero(np.diff(bucket, prepend=-1))
    lengths = np.diff(begins, append=bucket.size)
    found = [begins, begins + lengths - 1]
    for extreme in (np.minimum, np.maximum):
        of_bucket = np.repeat(extreme.reduceat(values, begins), lengths)
        places = np.flatnonzero(values == of_bucket)
        found.append(places[np.diff(bucket[places], prepend=-1) > 0])
    return np.unique(np.concatenate(found))


def _breaks(values: Floats, kept: NDArray[np.intp]) -> NDArray[np.intp]:
    """The first blank after each kept reading that has one before the next kept reading."""
    blanks = np.flatnonzero(~np.isfinite(values))
    first = np.searchsorted(blanks, kept)
    there = first < blanks.size
    candidates = blanks[np.minimum(first, max(blanks.size - 1, 0))] if blanks.size else kept
    following = np.append(kept[1:], values.size)
    return candidates[there & (candidates < following)]

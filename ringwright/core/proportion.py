"""Proportions with the interval that few parts allow."""

from __future__ import annotations

from math import sqrt
from typing import Final

Z_95: Final = 1.959963984540054
"""Standard normal quantile of a two-sided 95 % interval."""


def wilson(k: float, n: int, z: float = Z_95) -> tuple[float, float]:
    """Wilson score interval, without continuity correction, of k good out of n.

    Where parts share a fate n counts what fails on its own (loads), and k is then the share
    of good parts times n, which need be no whole number.

    With n = 0 there is no proportion: ValueError, and the figure is shown as absent.
    """
    if n < 1 or not 0 <= k <= n:
        raise ValueError(f"{k} of {n} is not a proportion")
    share, z2 = k / n, z * z
    middle = share + z2 / (2 * n)
    reach = z * sqrt(share * (1 - share) / n + z2 / (4 * n * n))
    scale = 1 + z2 / n
    # At the ends the bound is exactly 0 or 1; rounding must not leave 1e-17 or 0.9999….
    low = 0.0 if k == 0 else (middle - reach) / scale
    high = 1.0 if k == n else (middle + reach) / scale
    return low, high

"""Counts and means with their intervals: how many an hour, a metre, a case. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence

CONFIDENCE = 0.95


def poisson_rate(count: int, exposure: float) -> tuple[float, float, float]:
    """Rate with its exact 95 % interval: F. Garwood, Biometrika 28 (1936) 437.

    Half the chi-square quantiles of 2 k and 2 k + 2 degrees, over the exposure. ValueError for
    a count below zero, or nothing that was exposed.
    """
    from scipy.stats import chi2

    if count < 0 or not exposure > 0:
        raise ValueError("a rate needs a count and something that was exposed")
    tail = (1 - CONFIDENCE) / 2
    low = float(chi2.ppf(tail, 2 * count)) / 2 if count else 0.0
    high = float(chi2.ppf(1 - tail, 2 * count + 2)) / 2
    return count / exposure, low / exposure, high / exposure


def mean_of(values: Sequence[float]) -> tuple[float, float, float] | None:
    """Mean with its 95 % interval by Student's t; None where fewer than two are known.

    W. S. Gosset ("Student"), Biometrika 6 (1908) 1. For counts of few cases it is rough.
    """
    from scipy.stats import t

    n = len(values)
    if n < 2:
        return None
    mean = math.fsum(values) / n
    spread = math.sqrt(math.fsum((one - mean) ** 2 for one in values) / (n - 1))
    reach = float(t.ppf(1 - (1 - CONFIDENCE) / 2, n - 1)) * spread / math.sqrt(n)
    return mean, mean - reach, mean + reach


def middle(values: Sequence[float]) -> float | None:
    """The median; None of nothing."""
    if not values:
        return None
    ordered, half = sorted(values), len(values) // 2
    if len(values) % 2:
        return ordered[half]
    return (ordered[half - 1] + ordered[half]) / 2

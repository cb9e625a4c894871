"""Repeats of one reading: mean, scatter, and the one that stands out. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scipy import stats

from ringwright.core.conformity import mean_of, standard_uncertainty

SIGNIFICANCE: Final = 0.05
"""Level of the test of outliers: ISO 5725-2 calls what it finds a straggler at least."""
FEWEST: Final = 3
"""Two readings cannot say which of them is wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlier:
    """The reading that stands out: its place from 0, and how far."""

    place: int
    g: float
    critical: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """What the repeats that count say, in their unit."""

    n: int
    mean: float
    scatter: float | None
    """Experimental standard deviation of one reading; None with a single one."""
    uncertainty: float | None
    """Standard uncertainty of the mean with the gauge's own; None where that is not known."""
    outlier: Outlier | None


def grubbs_critical(n: int, significance: float = SIGNIFICANCE) -> float:
    """Critical value of the two-sided Grubbs test for one outlier among n readings.

    F. E. Grubbs, Technometrics 11 (1969) 1; NIST/SEMATECH e-Handbook 1.3.5.17.1.
    Raises ValueError below three readings.
    """
    if n < FEWEST:
        raise ValueError("the test needs three readings")
    t = float(stats.t.isf(significance / (2 * n), n - 2))
    return (n - 1) / math.sqrt(n) * math.sqrt(t**2 / (n - 2 + t**2))


def find_outlier(values: Sequence[float]) -> Outlier | None:
    """The reading farthest from the mean, if the Grubbs test calls it one."""
    n = len(values)
    if n < FEWEST:
        return None
    mean = math.fsum(values) / n
    sigma = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (n - 1))
    if sigma == 0.0:
        return None
    place = max(range(n), key=lambda i: abs(values[i] - mean))
    g, critical = abs(values[place] - mean) / sigma, grubbs_critical(n)
    return Outlier(place=place, g=g, critical=critical) if g > critical else None


def summarise(
    values: Sequence[float], left_out: Sequence[int], of_gauge: float | None
) -> Repeats | None:
    """Mean and uncertainty of the repeats that count; None where none does.

    The outlier is sought among those that count, and named by its place among all.
    """
    kept = [place for place in range(len(values)) if place not in left_out]
    if not kept:
        return None
    counted = tuple(values[place] for place in kept)
    mean, n = mean_of(counted), len(counted)
    scatter = None
    if n > 1:
        scatter = math.sqrt(math.fsum((v - mean) ** 2 for v in counted) / (n - 1))
    found = find_outlier(counted)
    return Repeats(
        n=n,
        mean=mean,
        scatter=scatter,
        uncertainty=standard_uncertainty(of_gauge, counted),
        outlier=None
        if found is None
        else Outlier(place=kept[found.place], g=found.g, critical=found.critical),
    )

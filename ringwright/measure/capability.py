"""Capability indices with their confidence intervals, one-sided limits too.

Cp and Cpk use the short-term standard deviation (moving ranges), Pp and Ppk that of all
readings. NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6; ISO 22514-2.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scipy import stats

from ringwright.measure.chart import IndividualsChart, individuals_chart

FEWEST: Final = 10
"""Below this an index would be a guess; its interval would say so, but nobody reads on."""
CONFIDENCE: Final = 0.95
OF_RANGES: Final = 0.605
"""Degrees of freedom of a standard deviation from moving ranges of two, over n - 1.

From the variance of the mean moving range, P. G. Hoel, Annals of Mathematical Statistics 17
(1946) 475 (from memory; a test draws it).
"""
NOT_NORMAL: Final = 0.01
MOST_TESTED: Final = 5_000
"""The Shapiro-Wilk test is exact enough up to here (P. Royston, Applied Statistics 44)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """One index and its 95 % confidence interval."""

    name: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Capability:
    """What the readings say of the process against its limits."""

    n: int
    mean: float
    sigma: float
    """Of all readings."""
    chart: IndividualsChart
    indices: tuple[Index, ...]
    outside: int
    normal_p: float | None
    """p-value of the Shapiro-Wilk test; None where nothing varies."""

    @property
    def normal(self) -> bool:
        """False when a normal distribution is ruled out: then the indices mislead."""
        return self.normal_p is None or self.normal_p >= NOT_NORMAL

    def index(self, name: str) -> Index | None:
        """One of the indices; None where its limit is not there."""
        return next((one for one in self.indices if one.name == name), None)


def capability(
    values: Sequence[float], lower: float | None, upper: float | None
) -> Capability | None:
    """Indices of readings in the order of time; None below ten, or where none differs."""
    chart = individuals_chart(values)
    if chart is None or len(values) < FEWEST:
        return None
    n = len(values)
    sigma = math.sqrt(math.fsum((v - chart.mean) ** 2 for v in values) / (n - 1))
    if sigma == 0.0:
        return None
    found: list[Index] = []
    if chart.sigma > 0.0:
        df = max(1.0, OF_RANGES * (n - 1))
        found += _indices("C", chart.mean, chart.sigma, (lower, upper), (n, df))
    found += _indices("P", chart.mean, sigma, (lower, upper), (n, float(n - 1)))
    below = sum(lower is not None and v < lower for v in values)
    above = sum(upper is not None and v > upper for v in values)
    return Capability(
        n=n,
        mean=chart.mean,
        sigma=sigma,
        chart=chart,
        indices=tuple(found),
        outside=below + above,
        normal_p=float(stats.shapiro(values[-MOST_TESTED:]).pvalue),
    )


def _indices(
    letter: str,
    mean: float,
    sigma: float,
    limits: tuple[float | None, float | None],
    sample: tuple[int, float],
) -> list[Index]:
    lower, upper = limits
    found = []
    if lower is not None and upper is not None:
        found.append(_spread(f"{letter}p", (upper - lower) / (6 * sigma), sample[1]))
    sides = [] if lower is None else [(mean - lower) / (3 * sigma)]
    sides += [] if upper is None else [(upper - mean) / (3 * sigma)]
    if sides:
        found.append(_nearest(f"{letter}pk", min(sides), sample))
    return found


def _spread(name: str, value: float, df: float) -> Index:
    """Cp: the interval is that of a standard deviation (e-Handbook 6.1.6)."""
    tail = (1 - CONFIDENCE) / 2
    low, high = stats.chi2.ppf(tail, df), stats.chi2.ppf(1 - tail, df)
    ends = [value * math.sqrt(float(one) / df) for one in (low, high)]
    return Index(name=name, value=value, low=ends[0], high=ends[1])


def _nearest(name: str, value: float, sample: tuple[int, float]) -> Index:
    """Cpk: A. F. Bissell, Applied Statistics 39 (1990) 331; e-Handbook 6.1.6."""
    n, df = sample
    half = float(stats.norm.isf((1 - CONFIDENCE) / 2)) * math.sqrt(
        1 / (9 * n) + value**2 / (2 * df)
    )
    return Index(name=name, value=value, low=value - half, high=value + half)

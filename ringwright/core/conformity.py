"""Deciding whether a reading conforms: limits, guard bands, probability of conformity.

Sums are made in decimal, from the shortest text of each figure: a mean of 7.30 that binary
floats make 7.300000000000001 lies on its limit, not over it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import sqrt
from statistics import NormalDist
from typing import Final

GUARD_FACTOR: Final = Decimal("1.645")
"""Guard band over the standard uncertainty: what stays inside conforms with 95 %.

The default of ISO 14253-1:2017 (a 95 % limit of conformance probability, one-sided normal
quantile); JCGM 106:2012, 8.3.2, calls it guarded acceptance.
"""
COVERAGE: Final = Decimal(2)
"""Coverage factor of an expanded uncertainty (about 95 %; GUM, JCGM 100:2008, 6.3.3)."""
COARSEST: Final = Decimal("0.25")
"""Largest expanded uncertainty over the limit it judges: the test uncertainty ratio of 4 to 1
of ANSI/NCSL Z540.3-2006 (from memory)."""

INSIDE, GUARD, OUTSIDE = "inside", "in the guard band", "outside"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a reading is judged by; a limit that is None is not asked."""

    lower: float | None = None
    upper: float | None = None
    nominal: float | None = None

    def sides(self) -> tuple[Decimal, ...]:
        """How far nominal and limits are apart: what a gauge must tell apart.

        Two limits: half the tolerance. One: from the nominal to it; without a nominal its own
        size. None: nothing.
        """
        low, high, middle = exact(self.lower), exact(self.upper), exact(self.nominal)
        if low is not None and high is not None:
            return ((high - low) / 2,)
        one = high if low is None else low
        if one is None:
            return ()
        return (abs(one - (middle or Decimal(0))),)


def exact(value: float | None) -> Decimal | None:
    """The figure as it was typed: the shortest text that gives the same float."""
    return None if value is None else Decimal(repr(float(value)))


def verdict(
    value: float, limits: Limits, uncertainty: float | None = None, *, guarded: bool = False
) -> str:
    """`inside`, `in the guard band` or `outside`; the limits themselves are inside.

    Simple acceptance knows no guard band. `uncertainty` is one standard uncertainty in the
    unit of the value; guarded without one is judged as simple acceptance, and whoever asks
    must not let that decide.
    """
    lower, upper = limits.lower, limits.upper
    # Shortest texts lie in the order of their floats, so these need no decimals.
    if (lower is not None and value < lower) or (upper is not None and value > upper):
        return OUTSIDE
    if not guarded or uncertainty is None:
        return INSIDE
    there, low, high = Decimal(repr(value)), exact(lower), exact(upper)
    band = guard_band(uncertainty)
    near_low = low is not None and there < low + band
    near_high = high is not None and there > high - band
    return GUARD if near_low or near_high else INSIDE


def guard_band(uncertainty: float) -> Decimal:
    """Width of the guard band inside each limit, in the unit of the uncertainty."""
    given = exact(uncertainty)
    assert given is not None
    return GUARD_FACTOR * given


def probability_of_conformity(value: float, limits: Limits, uncertainty: float) -> float:
    """Probability that the true value lies within the limits, for a normal distribution.

    JCGM 106:2012, equations 7 to 9 of 7.2 and 7.3: Phi((upper - y) / u) - Phi((lower - y) / u).
    """
    if uncertainty <= 0:
        return 1.0 if verdict(value, limits) == INSIDE else 0.0
    normal = NormalDist(value, uncertainty)
    above = 1.0 if limits.upper is None else normal.cdf(limits.upper)
    below = 0.0 if limits.lower is None else normal.cdf(limits.lower)
    return max(0.0, above - below)


def too_coarse(uncertainty: float, limits: Limits) -> bool:
    """True when the expanded uncertainty exceeds a quarter of the limit it judges."""
    given = exact(uncertainty)
    assert given is not None
    return any(side > 0 and COVERAGE * given > COARSEST * side for side in limits.sides())


def mean_of(values: tuple[float, ...]) -> float:
    """The mean, added up in decimal; raises ValueError for none."""
    if not values:
        raise ValueError("no value to take the mean of")
    figures = [exact(value) or Decimal(0) for value in values]
    return float(sum(figures) / len(figures))


def standard_uncertainty(of_gauge: float | None, repeats: tuple[float, ...]) -> float | None:
    """Standard uncertainty of a mean of repeats; None where the gauge's is not known.

    The gauge's own (type B) and the experimental standard deviation of the mean (type A)
    combine as independent (GUM, JCGM 100:2008, 4.2.3 and 5.1.2).
    """
    if of_gauge is None:
        return None
    n = len(repeats)
    if n < 2:
        return of_gauge
    middle = mean_of(repeats)
    variance = sum((one - middle) ** 2 for one in repeats) / (n - 1)
    return sqrt(of_gauge**2 + variance / n)


def at_least_resolution(uncertainty: float | None, resolution: float | None) -> float | None:
    """A gauge's standard uncertainty, never below that of its own last digit.

    A resolution d alone gives d / sqrt(12) (GUM, JCGM 100:2008, F.2.2.1).
    """
    if resolution is None:
        return uncertainty
    of_digit = resolution / sqrt(12)
    return None if uncertainty is None else max(uncertainty, of_digit)

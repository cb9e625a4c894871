"""Individuals and moving ranges: is the process steady, and where did it begin to drift?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

D2: Final = 2 / math.sqrt(math.pi)
"""Mean range of two, in standard deviations: 1.128 (NIST/SEMATECH e-Handbook, 6.3.2.2)."""
D4: Final = 1 + 3 * math.sqrt(math.pi / 2 - 1)
"""Upper limit of ranges of two over their mean: 3.267."""
SIGMAS: Final = 3.0
ONE_SIDE: Final = 9
RISING: Final = 6
BEYOND, SIDE, TREND = "beyond", "side", "trend"
"""The rules: L. S. Nelson, Journal of Quality Technology 16 (1984) 237, tests 1, 2 and 3."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IndividualsChart:
    """The chart of single readings in the order of time, in their unit."""

    mean: float
    sigma: float
    """Short-term standard deviation: mean moving range over d2."""
    low: float
    high: float
    range_mean: float
    range_high: float
    flags: dict[int, tuple[str, ...]]
    """Place of a reading, from 0, to the rules that it ends or breaks."""

    @property
    def steady(self) -> bool:
        """True when no rule is broken."""
        return not self.flags


def individuals_chart(values: Sequence[float]) -> IndividualsChart | None:
    """Centre, limits and what stands out; None below two readings.

    Limits are the mean and three short-term standard deviations on either side.
    """
    if len(values) < 2:
        return None
    mean = math.fsum(values) / len(values)
    ranges = [abs(b - a) for a, b in pairwise(values)]
    range_mean = math.fsum(ranges) / len(ranges)
    sigma = range_mean / D2
    low, high = mean - SIGMAS * sigma, mean + SIGMAS * sigma
    return IndividualsChart(
        mean=mean,
        sigma=sigma,
        low=low,
        high=high,
        range_mean=range_mean,
        range_high=D4 * range_mean,
        flags=_flags(values, mean, (low, high)),
    )


def _flags(
    values: Sequence[float], mean: float, limits: tuple[float, float]
) -> dict[int, tuple[str, ...]]:
    found: dict[int, tuple[str, ...]] = {}
    side = run = trend = turn = 0
    before: float | None = None
    for place, value in enumerate(values):
        here = (value > mean) - (value < mean)
        run = run + 1 if here == side and here else abs(here)
        side = here
        step = 0 if before is None else (value > before) - (value < before)
        trend = trend + 1 if step == turn and step else abs(step)
        turn, before = step, value
        told = [BEYOND] if not limits[0] <= value <= limits[1] else []
        told += [SIDE] if run >= ONE_SIDE else []
        # Six readings that rise make five steps.
        told += [TREND] if trend >= RISING - 1 else []
        if told:
            found[place] = tuple(told)
    return found

"""A line of stations against the bounds of factory physics.

Hopp & Spearman, Factory Physics, 3rd ed. (2008), chapter 7: the bottleneck rate rb is that of
the station with the least long-run capacity, the raw process time T0 the sum of the process
times, the critical WIP W0 = rb T0. Best, worst and practical worst case: laws 7.1 to 7.3 there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

AS_PRACTICAL: Final = "between the best and the practical worst case"
AS_WORST: Final = "between the practical worst and the worst case"


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStation:
    """One station of a line: hours that a part is worked on, and how many at once."""

    touch_h: float
    machines: int = 1
    passes: float = 1.0
    """Times that a part passes it, on the mean; rework makes it more than one."""

    @property
    def rate_per_h(self) -> float:
        """Parts of the line that it can do in an hour; endless where nothing takes time."""
        load_h = self.touch_h * self.passes
        return self.machines / load_h if load_h else float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What a line gives with so many parts in it: parts an hour, and hours a part."""

    rate_per_h: float
    cycle_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Bottleneck rate [parts/h] and raw process time [h] of a line."""

    rate_per_h: float
    raw_h: float

    def __post_init__(self) -> None:
        if not (0 < self.rate_per_h < float("inf") and self.raw_h > 0):
            raise ValueError("a line needs a bottleneck rate and a raw process time above 0")

    @property
    def critical_wip(self) -> float:
        """Parts with which a line without variability reaches both: W0 = rb T0."""
        return self.rate_per_h * self.raw_h

    def best(self, wip: float) -> Case:
        """No variability: min(w/T0, rb) parts an hour, max(T0, w/rb) hours."""
        _checked(wip)
        return Case(
            rate_per_h=min(wip / self.raw_h, self.rate_per_h),
            cycle_h=max(self.raw_h, wip / self.rate_per_h),
        )

    def worst(self, wip: float) -> Case:
        """Every part waits for all the others at each station: 1/T0 an hour, w T0 hours."""
        _checked(wip)
        return Case(rate_per_h=1 / self.raw_h, cycle_h=wip * self.raw_h)

    def practical_worst(self, wip: float) -> Case:
        """Most disorder of a balanced line: w/(W0+w-1) rb an hour, T0 + (w-1)/rb hours."""
        _checked(wip)
        return Case(
            rate_per_h=wip / (self.critical_wip + wip - 1) * self.rate_per_h,
            cycle_h=self.raw_h + (wip - 1) / self.rate_per_h,
        )

    def standing(self, wip: float, rate_per_h: float) -> str:
        """On which side of the practical worst case a line that gives so much stands."""
        good = rate_per_h >= self.practical_worst(wip).rate_per_h
        return AS_PRACTICAL if good else AS_WORST


def line_of(stations: Sequence[LineStation]) -> Line:
    """The line of some stations. Raises ValueError where none takes any time."""
    return Line(
        rate_per_h=min((one.rate_per_h for one in stations), default=float("inf")),
        raw_h=sum(one.touch_h * one.passes for one in stations),
    )


def _checked(wip: float) -> None:
    if wip < 1:
        raise ValueError("the bounds hold from one part in the line on")

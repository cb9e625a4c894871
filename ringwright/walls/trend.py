"""What the cuts took off and what the rest will leave: a thin wall seen before the last cut.

A place's finished wall is expected at its present wall, less the stock planned for the cuts
to come, less how much more than planned they took of past cases. Its uncertainty is the
reading's and the scatter of past removal, combined as independent (GUM, JCGM 100:2008,
5.1.2); with n past cases the chance is by Student's t with n - 1 degrees of freedom, the
scatter widened by (1 + 1/n) for one more case (G. J. Hahn and W. Q. Meeker, Statistical
Intervals, 1991, chapter 4).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from scipy.spatial import cKDTree
from scipy.special import ndtr, stdtr

from ringwright.walls.mapping import Judged, WallMap
from ringwright.walls.plan import FULL_TURN_DEG, WallPlan, Zone
from ringwright.walls.reading import WallReading

LEAST_CASES: Final = 3
"""Below this many past cases their scatter is not told: only the reading's uncertainty is."""
SMALLEST_U: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Removal:
    """What went off at one place between two readings of it."""

    zone: Zone
    before: WallReading
    after: WallReading
    planned_mm: float

    @property
    def removed_mm(self) -> float:
        """What was really taken."""
        return self.before.wall_mm - self.after.wall_mm

    @property
    def over_mm(self) -> float:
        """How much more than planned was taken; less, a minus."""
        return self.removed_mm - self.planned_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneRemoval:
    """What went off one zone between two steps of one case."""

    zone: Zone
    n: int
    planned_mm: float
    mean_mm: float
    least_mm: float
    most_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What past cases say of the cuts between two steps in one zone."""

    cases: int
    over_mm: float
    """Mean of what was taken over the plan."""
    scatter_mm: float
    """Standard deviation at a place: between cases, and from place to place within one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What is expected of one place once the last cut is done."""

    point: Judged
    wall_mm: float
    u_mm: float
    chance_under: float
    """Chance to come under the lower limit at finish."""
    cases: int
    """Past cases that the scatter was learned from; 0: the reading's uncertainty alone."""

    @property
    def margin_mm(self) -> float:
        """How far above the finished lower limit it is expected; below, a minus."""
        return self.wall_mm - self.point.zone.lower_mm


def aligned(
    plan: WallPlan,
    before: tuple[int, Sequence[WallReading]],
    after: tuple[int, Sequence[WallReading]],
) -> tuple[Removal, ...]:
    """Each later reading with the nearest earlier one, if that lies within half a gap."""
    (first, earlier), (last, later) = before, after
    if not earlier or not later:
        return ()
    scale = np.array([plan.gap_mm, plan.gap_deg])
    turn = np.array([0.0, FULL_TURN_DEG])
    there = _places(earlier)
    tree = cKDTree(np.vstack([there - turn, there, there + turn]) / scale)
    far, nearest = tree.query(_places(later) / scale)
    found = []
    for one, distance, place in zip(
        later, np.atleast_1d(far), np.atleast_1d(nearest), strict=True
    ):
        zone_place = plan.zone_place(one.station_mm, one.angle_deg)
        if zone_place is None or distance > 0.5 + 1e-9:
            continue
        zone, old = plan.zones[zone_place], earlier[int(place) % len(earlier)]
        if plan.zone_place(old.station_mm, old.angle_deg) != zone_place:
            continue  # across the edge of a zone another stock was planned
        planned = zone.stock_between(first, last)
        found.append(Removal(zone=zone, before=old, after=one, planned_mm=planned))
    return tuple(found)


def by_zone(removals: Sequence[Removal]) -> tuple[ZoneRemoval, ...]:
    """What went off each zone, in the order they are met."""
    zones = {one.zone.name: one.zone for one in removals}
    return tuple(_zone_removal(zone, removals) for zone in zones.values())


def _zone_removal(zone: Zone, removals: Sequence[Removal]) -> ZoneRemoval:
    mine = [one for one in removals if one.zone.name == zone.name]
    taken = [one.removed_mm for one in mine]
    return ZoneRemoval(
        zone=zone,
        n=len(mine),
        planned_mm=mine[0].planned_mm,
        mean_mm=float(np.mean(taken)),
        least_mm=min(taken),
        most_mm=max(taken),
    )


def learned(cases: Sequence[Sequence[Removal]]) -> dict[str, Learned]:
    """Zone name to what past cases say of it; zones with too few cases are left out.

    The mean is that of the cases' means. The scatter at a place has two parts: the standard
    deviation of the cases' means, and the places' about the mean of their own case.
    """
    over: dict[str, list[np.ndarray]] = {}
    for case in cases:
        mine: dict[str, list[float]] = {}
        for one in case:
            mine.setdefault(one.zone.name, []).append(one.over_mm)
        for name, values in mine.items():
            over.setdefault(name, []).append(np.array(values))
    return {
        name: _learned(of_cases)
        for name, of_cases in over.items()
        if len(of_cases) >= LEAST_CASES
    }


def _learned(of_cases: Sequence[np.ndarray]) -> Learned:
    means = np.array([one.mean() for one in of_cases])
    freedom = sum(one.size - 1 for one in of_cases)
    within = sum(float(np.sum((one - one.mean()) ** 2)) for one in of_cases)
    inner = within / freedom if freedom else 0.0
    return Learned(
        cases=len(of_cases),
        over_mm=float(means.mean()),
        scatter_mm=sqrt(float(means.var(ddof=1)) + inner),
    )


def expected(found: WallMap, past: Mapping[str, Learned]) -> tuple[Expected, ...]:
    """What is expected of each place, the likeliest to be thin first."""
    last_step = max((*found.plan.cuts, found.step))
    told = [
        _expected(one, found.step, last_step, past.get(one.zone.name)) for one in found.points
    ]
    return tuple(
        sorted(
            told,
            key=lambda one: (
                -round(one.chance_under, 6),
                round(one.margin_mm, 6),
                one.point.reading.station_mm,
                one.point.reading.angle_deg,
            ),
        )
    )


def _expected(point: Judged, step: int, last: int, past: Learned | None) -> Expected:
    planned = point.zone.stock_between(step, last)
    over, scatter, cases = 0.0, 0.0, 0
    if past is not None and planned:
        over, cases = past.over_mm, past.cases
        scatter = past.scatter_mm * sqrt(1 + 1 / cases)
    wall = point.reading.wall_mm - planned - over
    u_mm = sqrt((point.u_mm or 0.0) ** 2 + scatter**2)
    off = (point.zone.lower_mm - wall) / max(u_mm, SMALLEST_U)
    chance = stdtr(cases - 1, off) if cases else ndtr(off)
    return Expected(
        point=point, wall_mm=wall, u_mm=u_mm, chance_under=float(chance), cases=cases
    )


def _places(readings: Sequence[WallReading]) -> np.ndarray:
    return np.array([[one.station_mm, one.angle_deg] for one in readings])

"""The map of a wall: each reading judged by its zone, the thinnest place, what lacks cover."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from ringwright.core.conformity import GUARD, INSIDE, OUTSIDE, Limits, mean_of, verdict
from ringwright.walls.plan import FULL_TURN_DEG, WallPlan, Zone
from ringwright.walls.reading import WallReading

WORST_FIRST: Final = (OUTSIDE, GUARD, INSIDE)
PROBES_A_GAP: Final = 2
"""Places asked for coverage in each largest gap, along either axis."""
MOST_PROBES: Final = 60_000
UNCOVERED_NAMED: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A reading with its zone's limits after the step, and how it stands to them."""

    reading: WallReading
    zone: Zone
    limits: Limits
    u_mm: float | None
    state: str

    @property
    def margin_mm(self) -> float:
        """How far above the lower limit it lies; below it, a minus."""
        assert self.limits.lower is not None
        return self.reading.wall_mm - self.limits.lower


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneFound:
    """What the readings of one zone say."""

    zone: Zone
    limits: Limits
    n: int
    least: Judged | None = None
    """The reading with the least wall."""
    mean_mm: float | None = None
    most_mm: float | None = None
    state: str = ""
    """The worst state of its readings; empty where it has none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncovered:
    """A place with no reading within the largest gap."""

    station_mm: float
    angle_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WallMap:
    """The map of one set of readings after a step."""

    plan: WallPlan
    step: int
    points: tuple[Judged, ...]
    zones: tuple[ZoneFound, ...]
    off_plan: int
    """Readings where the plan has no zone: shown, not judged."""
    uncovered: tuple[Uncovered, ...]
    """The first of them, by place."""
    uncovered_share: float

    @property
    def thinnest(self) -> Judged | None:
        """The reading least above its own lower limit; None where none was judged."""
        return min(self.points, key=_thin, default=None)

    @property
    def state(self) -> str:
        """The worst state of all readings; empty without one."""
        return worst(one.state for one in self.points)

    @property
    def outside(self) -> int:
        """Readings outside their limits."""
        return sum(one.state == OUTSIDE for one in self.points)


def worst(states: object) -> str:
    """The worst of some states; empty for none."""
    found = set(states)  # type: ignore[call-overload]
    return next((state for state in WORST_FIRST if state in found), "")


def _thin(one: Judged) -> tuple[float, float, float]:
    return (round(one.margin_mm, 9), one.reading.station_mm, one.reading.angle_deg)


def map_wall(
    plan: WallPlan, step: int, readings: Sequence[WallReading], u_mm: float | None
) -> WallMap:
    """The map of a set; `u_mm` is the gauge's standard uncertainty where a row has none."""
    limits = [zone.limits_after(step) for zone in plan.zones]
    points: list[Judged] = []
    for one in readings:
        place = plan.zone_place(one.station_mm, one.angle_deg)
        if place is None:
            continue
        sure = u_mm if one.u_mm is None else one.u_mm
        points.append(
            Judged(
                reading=one,
                zone=plan.zones[place],
                limits=limits[place],
                u_mm=sure,
                state=verdict(one.wall_mm, limits[place], sure, guarded=True),
            )
        )
    places, share = uncovered(plan, readings)
    return WallMap(
        plan=plan,
        step=step,
        points=tuple(points),
        zones=tuple(
            _zone_found(zone, limits[place], [one for one in points if one.zone is zone])
            for place, zone in enumerate(plan.zones)
        ),
        off_plan=len(readings) - len(points),
        uncovered=places[:UNCOVERED_NAMED],
        uncovered_share=share,
    )


def _zone_found(zone: Zone, limits: Limits, points: Sequence[Judged]) -> ZoneFound:
    if not points:
        return ZoneFound(zone=zone, limits=limits, n=0)
    walls = tuple(one.reading.wall_mm for one in points)
    return ZoneFound(
        zone=zone,
        limits=limits,
        n=len(points),
        least=min(points, key=_thin),
        mean_mm=mean_of(walls),
        most_mm=max(walls),
        state=worst(one.state for one in points),
    )


def uncovered(
    plan: WallPlan, readings: Sequence[WallReading]
) -> tuple[tuple[Uncovered, ...], float]:
    """Places of the zones farther than the largest gap from every reading, and their share.

    Distance is counted in gaps: along the case over `gap_mm`, round it over `gap_deg`.
    """
    stations, angles = _probes(plan)
    if not stations.size:
        return (), 0.0
    if not readings:
        alone: np.ndarray = np.ones(stations.size, dtype=bool)
    else:
        there = _turned_thrice(
            np.array([one.station_mm for one in readings]) / plan.gap_mm,
            np.array([one.angle_deg for one in readings]) / plan.gap_deg,
            FULL_TURN_DEG / plan.gap_deg,
        )
        asked = np.column_stack([stations / plan.gap_mm, angles / plan.gap_deg])
        alone = np.asarray(cKDTree(there).query(asked)[0]) > 1.0 + 1e-9
    places = tuple(
        Uncovered(station_mm=round(float(s), 1), angle_deg=round(float(a), 1))
        for s, a in zip(stations[alone], angles[alone], strict=True)
    )
    return places, float(alone.mean())


def _probes(plan: WallPlan) -> tuple[np.ndarray, np.ndarray]:
    """Places on an even grid that lie in a zone."""
    along = min(max(2, round(plan.length_mm / plan.gap_mm * PROBES_A_GAP) + 1), 400)
    round_ = min(
        max(4, round(FULL_TURN_DEG / plan.gap_deg * PROBES_A_GAP)), MOST_PROBES // along
    )
    stations = np.linspace(0.0, plan.length_mm, along)
    angles = np.arange(round_) * (FULL_TURN_DEG / round_)
    grid_s, grid_a = (one.ravel() for one in np.meshgrid(stations, angles, indexing="ij"))
    held = zone_places(plan, grid_s, grid_a) >= 0
    return grid_s[held], grid_a[held]


def zone_places(plan: WallPlan, stations: np.ndarray, angles: np.ndarray) -> np.ndarray:
    """The place of each point's zone, -1 where it has none: `zone_place` for many at once."""
    found = np.full(stations.shape, -1)
    for place, zone in enumerate(plan.zones):
        axial = (stations >= zone.from_mm) & (stations < zone.to_mm)
        if zone.to_mm == plan.length_mm:
            axial |= stations == plan.length_mm
        turned = np.zeros(stations.shape, dtype=bool)
        for low, high in zone.spans_deg:
            turned |= (angles >= low) & (angles < high)
        found[axial & turned] = place
    return found


def _turned_thrice(stations: np.ndarray, angles: np.ndarray, turn: float) -> np.ndarray:
    """Points with their copies a turn before and a turn behind, so that 359° is near 1°."""
    return np.column_stack(
        [np.tile(stations, 3), np.concatenate([angles - turn, angles, angles + turn])]
    )

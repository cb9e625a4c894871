"""The wall between the readings, for drawing alone: nothing is judged by it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.interpolate import griddata
from scipy.spatial import QhullError

from ringwright.walls.mapping import zone_places
from ringwright.walls.plan import FULL_TURN_DEG, WallPlan
from ringwright.walls.reading import WallReading


def surface(
    plan: WallPlan, step: int, readings: Sequence[WallReading], shape: tuple[int, int]
) -> tuple[np.ndarray, np.ndarray]:
    """Wall [mm] and zone place at the middle of each cell of `shape` (stations, angles).

    How far the wall is off its own zone's nominal after the step runs linearly between
    readings, round the turn too, so that the edge of a boss is no slope; beyond the outermost
    stations it is the nearest reading's. Where the plan has no zone, and without readings, the
    wall is not a number.
    """
    along, round_ = shape
    stations = (np.arange(along) + 0.5) * plan.length_mm / along
    angles = (np.arange(round_) + 0.5) * FULL_TURN_DEG / round_
    grid_s, grid_a = np.meshgrid(stations, angles, indexing="ij")
    zones = zone_places(plan, grid_s, grid_a)
    nominal = np.array([zone.limits_after(step).nominal or np.nan for zone in plan.zones])
    readings = [
        one for one in readings if plan.zone_place(one.station_mm, one.angle_deg) is not None
    ]
    if not readings:
        return np.full(grid_s.shape, np.nan), zones
    # Gaps are the measure of nearness, as for coverage.
    place = np.array(
        [[r.station_mm / plan.gap_mm, r.angle_deg / plan.gap_deg] for r in readings]
    )
    own = [plan.zone_place(r.station_mm, r.angle_deg) or 0 for r in readings]
    off = np.array([r.wall_mm for r in readings]) - nominal[own]
    turn = np.array([0.0, FULL_TURN_DEG / plan.gap_deg])
    place, off = np.vstack([place - turn, place, place + turn]), np.tile(off, 3)
    asked = (grid_s / plan.gap_mm, grid_a / plan.gap_deg)
    found = griddata(place, off, asked, method="nearest")
    try:
        between = griddata(place, off, asked, method="linear")
        found = np.where(np.isnan(between), found, between)
    except QhullError:
        pass  # all readings round one station: the nearest is all that is known
    return np.where(zones < 0, np.nan, found + nominal[zones]), zones

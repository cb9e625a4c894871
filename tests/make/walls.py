"""Walls for tests: a plan of two zones, and readings made from a shape that is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import cos, radians

from ringwright.walls.plan import WallPlan
from ringwright.walls.reading import WallReading
from ringwright.walls.toml import parse_plan

PLAN = """
[plan]
product = "X-CASE"
revision = 1
effective_from = "2026-01-01"
length_mm = 300
steps = [20, 40, 60]
largest_gap_mm = 60
largest_gap_deg = 20

[[cut]]
step = 50
face = "inside"

[[zone]]
name = "front barrel"
from_mm = 0
to_mm = 150
nominal_mm = 2.5
lower_mm = 2.2
upper_mm = 2.8
stock = { 30 = 3.0, 50 = 1.5 }

[[zone]]
name = "rear barrel"
from_mm = 150
to_mm = 300
nominal_mm = 3.0
lower_mm = 2.7
upper_mm = 3.3
stock = { 30 = 3.0, 50 = 1.0 }
"""
STATIONS = (30.0, 90.0, 150.0, 210.0, 270.0)
ANGLES = tuple(float(one) for one in range(0, 360, 20))


def make_plan(**changes: object) -> WallPlan:
    """The plan of two barrels: front 2.5 mm, rear 3.0 mm, cut at 30 and 50."""
    return replace(parse_plan(PLAN), **changes)  # type: ignore[arg-type]


def wall_of(
    plan: WallPlan, step: int, off_mm: Callable[[float, float], float] = lambda _s, _a: 0.0
) -> tuple[WallReading, ...]:
    """Readings on the grid: the plan's nominal after a step, and what `off_mm` adds."""
    found = []
    for station in STATIONS:
        for angle in ANGLES:
            place = plan.zone_place(station, angle)
            assert place is not None
            nominal = plan.zones[place].limits_after(step).nominal or 0.0
            wall = round(nominal + off_mm(station, angle), 6)
            found.append(WallReading(station_mm=station, angle_deg=angle, wall_mm=wall))
    return tuple(found)


def eccentric(size_mm: float, thin_deg: float) -> Callable[[float, float], float]:
    """A wall that is `size_mm` thinner than plan at `thin_deg`, and as much thicker across."""
    return lambda _station, angle: -size_mm * cos(radians(angle - thin_deg))


def csv_of(readings: tuple[WallReading, ...]) -> str:
    """The readings as a file that a gauge writes."""
    lines = ["station_mm,angle_deg,wall_mm"]
    lines += [f"{one.station_mm:g},{one.angle_deg:g},{one.wall_mm:.6g}" for one in readings]
    return "\n".join(lines) + "\n"

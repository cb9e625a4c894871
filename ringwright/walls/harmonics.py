"""How a wall runs round each station: eccentric (once a turn), oval (twice a turn).

wall less plan = a0 + a1 cos t + b1 sin t + a2 cos 2t + b2 sin 2t, by least squares. What is
fitted is the wall less its zone's nominal after the step, so that a boss is no eccentricity.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ringwright.walls.mapping import Judged

TERMS: Final = 5
LEAST: Final = 6
"""Readings round a station: one more than the terms, so that something is left to fit."""
STATION_MM: Final = 1.0
"""Readings whose stations round to the same whole millimetre lie round one station."""
WORST_CONDITION: Final = 30.0
"""Angles in one quarter of the turn say nothing of the rest; their fit is not told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """How the wall runs round one station."""

    station_mm: float
    n: int
    mean_off_mm: float
    """Mean of wall less nominal."""
    eccentric_mm: float
    """Amplitude of what runs once a turn."""
    thin_deg: float
    """Where what runs once a turn is thinnest."""
    oval_mm: float
    """Amplitude of what runs twice a turn."""
    oval_thin_deg: float
    """Where what runs twice a turn is thinnest, from 0 to below 180."""
    rest_mm: float
    """Standard deviation of what neither explains."""


def rounds(points: Sequence[Judged]) -> tuple[Round, ...]:
    """Each station with readings enough, all round, in order."""
    by_station: dict[int, list[Judged]] = defaultdict(list)
    for one in points:
        by_station[round(one.reading.station_mm / STATION_MM)].append(one)
    found = (_round(at) for _, at in sorted(by_station.items()))
    return tuple(one for one in found if one is not None)


def design(angles_deg: np.ndarray) -> np.ndarray:
    """The five terms at each angle."""
    t = np.radians(angles_deg)
    return np.column_stack(
        [np.ones(t.size), np.cos(t), np.sin(t), np.cos(2 * t), np.sin(2 * t)]
    )


def _round(at: Sequence[Judged]) -> Round | None:
    angles = np.array([one.reading.angle_deg for one in at])
    if np.unique(angles).size < LEAST:
        return None
    terms = design(angles)
    if np.linalg.cond(terms) > WORST_CONDITION:
        return None
    off = np.array([one.reading.wall_mm - (one.limits.nominal or 0.0) for one in at])
    fitted, *_ = np.linalg.lstsq(terms, off, rcond=None)
    rest = off - terms @ fitted
    mean, a1, b1, a2, b2 = (float(one) for one in fitted)
    freedom = max(len(at) - TERMS, 1)
    return Round(
        station_mm=float(np.mean([one.reading.station_mm for one in at])),
        n=len(at),
        mean_off_mm=mean,
        eccentric_mm=float(np.hypot(a1, b1)),
        thin_deg=_thin(a1, b1) % 360.0,
        oval_mm=float(np.hypot(a2, b2)),
        oval_thin_deg=_thin(a2, b2) / 2 % 180.0,
        rest_mm=float(np.sqrt(np.sum(rest**2) / freedom)),
    )


def _thin(a: float, b: float) -> float:
    """Where a cos t + b sin t is least [deg]."""
    return float(np.degrees(np.arctan2(-b, -a))) % 360.0

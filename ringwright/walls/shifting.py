"""Which shift of the next cut would even the wall out: a proposal, never an instruction.

A cut whose axis lies off by (x, y) leaves a wall that differs by x cos t + y sin t: thicker
towards the shift where the outside is cut, thinner where the inside is. Two answers: the
shift with the least squares of expected wall less nominal, and the one whose least margin to
either limit is largest (a linear programme, HiGHS through scipy).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import linprog

from ringwright.walls.plan import INSIDE_FACE
from ringwright.walls.trend import Expected

LEAST: Final = 6
WORST_CONDITION: Final = 1e3
MOST_SHIFT_MM: Final = 5.0
"""No set-up is moved farther to even out a wall (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A shift of the next cut's axis, and what it would do."""

    x_mm: float
    """Towards 0°."""
    y_mm: float
    """Towards 90°."""
    least_before_mm: float
    """The least margin to either limit as things are; a minus is beyond it."""
    least_after_mm: float
    squares_x_mm: float
    squares_y_mm: float
    """The shift by least squares, beside it."""

    @property
    def size_mm(self) -> float:
        """How far."""
        return float(np.hypot(self.x_mm, self.y_mm))

    @property
    def towards_deg(self) -> float:
        """Which way."""
        return float(np.degrees(np.arctan2(self.y_mm, self.x_mm))) % 360.0


def best_shift(places: Sequence[Expected], face: str = "") -> Shift | None:
    """The shift whose least margin is largest; None where the readings cannot tell."""
    angles = np.radians([one.point.reading.angle_deg for one in places])
    if len(places) < LEAST:
        return None
    turn = np.column_stack([np.cos(angles), np.sin(angles)])
    if np.linalg.cond(np.column_stack([np.ones(angles.size), turn])) > WORST_CONDITION:
        return None
    if face == INSIDE_FACE:
        turn = -turn
    wall = np.array([one.wall_mm for one in places])
    lower, nominal, upper = (
        np.array([getattr(one.point.zone, name) for one in places])
        for name in ("lower_mm", "nominal_mm", "upper_mm")
    )
    best = _minimax(turn, wall - lower, upper - wall)
    if best is None:
        return None
    # The mean is fitted beside it: a shift cannot make a wall thicker all round.
    terms = np.column_stack([np.ones(angles.size), turn])
    fitted, *_ = np.linalg.lstsq(terms, nominal - wall, rcond=None)

    def least(shift: np.ndarray) -> float:
        after = wall + turn @ shift
        return float(np.min(np.minimum(after - lower, upper - after)))

    return Shift(
        x_mm=float(best[0]),
        y_mm=float(best[1]),
        least_before_mm=least(np.zeros(2)),
        least_after_mm=least(best),
        squares_x_mm=float(fitted[1]),
        squares_y_mm=float(fitted[2]),
    )


def _minimax(turn: np.ndarray, above: np.ndarray, below: np.ndarray) -> np.ndarray | None:
    """(x, y) with the largest least of `above` + turn (x, y) and `below` - turn (x, y)."""
    ones = np.ones((turn.shape[0], 1))
    rows = np.vstack([np.hstack([-turn, ones]), np.hstack([turn, ones])])
    far = (-MOST_SHIFT_MM, MOST_SHIFT_MM)
    answer = linprog(
        [0.0, 0.0, -1.0],
        A_ub=rows,
        b_ub=np.concatenate([above, below]),
        bounds=[far, far, (None, None)],
        method="highs",
    )
    return None if answer.x is None else np.asarray(answer.x)[:2]

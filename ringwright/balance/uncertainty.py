"""How far the residual of a set may be off, whatever its figure says.

Each blade's error is a vector of its own: the scale and the seating move it along its radius,
the slot's angle across it. They are independent, so their squares add; the size of the sum
follows a Rayleigh distribution when there are some blades in it (J. W. Strutt, 1880). Its root
mean square R is what is shown as the standard uncertainty; its mean is R·√π/2 = 0.886 R and its
95 % point R·√ln 20 = 1.731 R.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.balance.pool import Ints, Pool

MEAN_FACTOR: Final = math.sqrt(math.pi) / 2
P95_FACTOR: Final = math.sqrt(math.log(20))
ENOUGH: Final = 0.25
"""A nominal residual of a quarter of R adds about 3 % to the true one: √(1 + 1/16)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """Standard uncertainties that are the same for every blade; None: not entered."""

    moment_u_g_mm: float | None = None
    """From the scale, for blades whose reading carries none of its own."""
    slot_angle_u_deg: float | None = None
    seating_u_g_mm: float | None = None


NOT_ENTERED: Final = Floor()


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertainty:
    """The uncertainty of one set's residual and what it is made of, each as R, g·mm."""

    scale_g_mm: float
    slot_angle_g_mm: float | None = None
    seating_g_mm: float | None = None

    @property
    def rms_g_mm(self) -> float:
        """R: root mean square of the residual due to all that is known, g·mm."""
        parts = (self.scale_g_mm, self.slot_angle_g_mm, self.seating_g_mm)
        return math.hypot(*(part for part in parts if part is not None))

    @property
    def mean_g_mm(self) -> float:
        """Mean size of the residual of a set that is perfect on paper."""
        return MEAN_FACTOR * self.rms_g_mm

    @property
    def p95_g_mm(self) -> float:
        """Size that it exceeds in 5 cases of 100."""
        return P95_FACTOR * self.rms_g_mm

    @property
    def stop_at_g_mm(self) -> float:
        """A nominal residual below which more search would only fit noise."""
        return ENOUGH * self.rms_g_mm

    @property
    def scale_only(self) -> bool:
        """True where slot angle and seating were not entered: the floor is higher than this."""
        return self.slot_angle_g_mm is None and self.seating_g_mm is None


def uncertainty_of(
    pool: Pool, places: Sequence[int] | Ints, floor: Floor = NOT_ENTERED
) -> Uncertainty | None:
    """The uncertainty of a set of these blades; None where a blade's scale is unknown."""
    scale = [_scale(pool, int(place), floor) for place in places]
    if not scale or any(u is None for u in scale):
        return None
    moments = [pool.blades[int(place)].moment_g_mm for place in places]
    angle_u, seating_u = floor.slot_angle_u_deg, floor.seating_u_g_mm
    return Uncertainty(
        scale_g_mm=math.hypot(*(u for u in scale if u is not None)),
        slot_angle_g_mm=None
        if angle_u is None
        else math.radians(angle_u) * math.hypot(*moments),
        seating_g_mm=None if seating_u is None else seating_u * math.sqrt(len(moments)),
    )


def _scale(pool: Pool, place: int, floor: Floor) -> float | None:
    own = pool.blades[place].moment_u_g_mm
    return floor.moment_u_g_mm if own is None else own

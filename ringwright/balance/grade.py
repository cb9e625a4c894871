"""Permissible residual unbalance, and the share of it that the blades' distribution may use.

U_per = 1000·G·m/Ω with G in mm/s, m in kg, Ω in rad/s and U_per in g·mm (ISO 21940-11). It
belongs to the assembled rotor: what a set leaves is compared with the share that the rotor
engineer allots, and with nothing where none is allotted. Whether a rotor may run is decided on
the balancing machine, by an authorised person.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


def permissible_g_mm(grade_mm_s: float, mass_kg: float, speed_rpm: float) -> float:
    """U_per of a rotor, g·mm."""
    return 1000.0 * grade_mm_s * mass_kg / angular_speed(speed_rpm)


def permissible_eccentricity_um(grade_mm_s: float, speed_rpm: float) -> float:
    """e_per = U_per/m, the permissible offset of the centre of mass, µm."""
    return 1000.0 * grade_mm_s / angular_speed(speed_rpm)


def angular_speed(speed_rpm: float) -> float:
    """Ω in rad/s."""
    return speed_rpm * math.tau / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A residual with its 95 % uncertainty, against the share allotted to it."""

    residual_g_mm: float
    p95_g_mm: float
    share_g_mm: float

    @property
    def used_g_mm(self) -> float:
        """Residual plus its 95 % uncertainty."""
        return self.residual_g_mm + self.p95_g_mm

    @property
    def within(self) -> bool:
        """True when that lies within the share."""
        return self.used_g_mm <= self.share_g_mm


def compare(
    residual_g_mm: float, p95_g_mm: float | None, share_g_mm: float | None
) -> Comparison | None:
    """The comparison; None where no share is allotted or the uncertainty is unknown."""
    if share_g_mm is None or p95_g_mm is None:
        return None
    return Comparison(residual_g_mm=residual_g_mm, p95_g_mm=p95_g_mm, share_g_mm=share_g_mm)

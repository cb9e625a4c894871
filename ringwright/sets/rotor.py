"""What a product's rotor allows, as the rotor engineer entered it; None where nothing is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from ringwright.balance.grade import permissible_g_mm
from ringwright.core.errors import Refused

if TYPE_CHECKING:
    from ringwright.balance.uncertainty import Floor


@dataclass(frozen=True, slots=True, kw_only=True)
class Rotor:
    """The assembled rotor, the uncertainties of a set in it, and the weights it takes."""

    mass_kg: float | None = None
    """Mass of the assembled rotor."""
    speed_rpm: float | None = None
    """Largest service speed."""
    grade_mm_s: float | None = None
    """Balance quality grade G of ISO 21940-11, mm/s."""
    share_g_mm: float | None = None
    """Share of the permissible residual unbalance allotted to the blades' distribution."""
    moment_u_g_mm: float | None = None
    """Standard uncertainty of one blade's moment, from the scale."""
    slot_angle_u_deg: float | None = None
    """Standard uncertainty of a slot's angle."""
    seating_u_g_mm: float | None = None
    """Standard uncertainty of one blade's moment from how it seats in its slot."""
    clockwise: bool = True
    """Slots are numbered clockwise as seen from `view`."""
    view: str = "front"
    """Where the rotor is seen from: front or rear."""
    positions: int | None = None
    """Places for balance weights, equally spaced from slot 1's angle."""
    position_radius_mm: float | None = None
    masses_g: tuple[float, ...] = ()
    """Masses of the balance weights or screws there are; one at most in a place."""
    frequency_spread_hz: float | None = None
    """The usual limits of a set; the planner may ask for tighter ones."""
    moment_spread_g_mm: float | None = None
    neighbour_g_mm: float | None = None
    opposite_g_mm: float | None = None

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, bool) or not isinstance(value, int | float):
                continue
            if not (math.isfinite(value) and value > 0):
                raise Refused(f"{field.name} must be a number above 0; leave it out if unknown")
        if self.view not in ("front", "rear"):
            raise Refused("view must be front or rear")
        if any(not (math.isfinite(mass) and mass > 0) for mass in self.masses_g):
            raise Refused("masses_g must be numbers above 0")

    @property
    def permissible_g_mm(self) -> float | None:
        """U_per of the assembled rotor; None while mass, speed or grade is not entered."""
        grade, mass, speed = self.grade_mm_s, self.mass_kg, self.speed_rpm
        if grade is None or mass is None or speed is None:
            return None
        return permissible_g_mm(grade, mass, speed)

    def data(self) -> dict[str, Any]:
        """The fields that were entered, as JSON values."""
        found = {field.name: getattr(self, field.name) for field in fields(self)}
        found["masses_g"] = list(self.masses_g)
        return {name: value for name, value in found.items() if value not in (None, [])}


def floor_of(rotor: Rotor) -> Floor:
    """What the rotor engineer entered of the uncertainties."""
    # Here, since whoever only books never needs the arithmetic, which is slow to load.
    from ringwright.balance.uncertainty import Floor

    return Floor(
        moment_u_g_mm=rotor.moment_u_g_mm,
        slot_angle_u_deg=rotor.slot_angle_u_deg,
        seating_u_g_mm=rotor.seating_u_g_mm,
    )


def rotor_of(data: Mapping[str, Any]) -> Rotor:
    """The rotor of stored or given fields; raises Refused for one that is unknown."""
    known = {field.name for field in fields(Rotor)}
    unknown = sorted(set(data) - known)
    if unknown:
        raise Refused(f"{', '.join(unknown)}: nothing of a rotor is called so")
    given = dict(data)
    given["masses_g"] = tuple(given.get("masses_g", ()))
    return Rotor(**given)

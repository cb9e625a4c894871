"""The wall plan of a case: its zones, their limits, and what each later cut still takes off."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from ringwright.core.conformity import Limits

FULL_TURN_DEG: Final = 360.0
OUTSIDE_FACE, INSIDE_FACE = "outside", "inside"
FACES: Final = (OUTSIDE_FACE, INSIDE_FACE)
ULTRASONIC, COORDINATE = "ultrasonic", "coordinate"
METHODS: Final = {ULTRASONIC: "ultrasonic", COORDINATE: "cmm"}
"""How a wall is read, to the kind of gauge that reads it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A patch of the unrolled wall with limits of its own at finish."""

    name: str
    from_mm: float
    to_mm: float
    from_deg: float = 0.0
    to_deg: float = FULL_TURN_DEG
    """Below `from_deg` where the zone runs through 0."""
    nominal_mm: float
    lower_mm: float
    upper_mm: float
    stock: dict[int, float] = field(default_factory=dict)
    """Step to the stock it takes off the wall here, mm."""

    @property
    def spans_deg(self) -> tuple[tuple[float, float], ...]:
        """Its angles as one span, or two where it runs through 0."""
        if self.from_deg < self.to_deg:
            return ((self.from_deg, self.to_deg),)
        return ((self.from_deg, FULL_TURN_DEG), (0.0, self.to_deg))

    def stock_after(self, step: int) -> float:
        """What the cuts after a step still take off here, mm."""
        return sum(mm for number, mm in self.stock.items() if number > step)

    def stock_between(self, first: int, last: int) -> float:
        """What is planned to go between the reading at one step and that at another, mm."""
        return sum(mm for number, mm in self.stock.items() if first < number <= last)

    def limits_after(self, step: int) -> Limits:
        """What the wall must lie within once a step is done: at finish, and the stock left."""
        left = self.stock_after(step)
        return Limits(
            lower=_plus(self.lower_mm, left),
            upper=_plus(self.upper_mm, left),
            nominal=_plus(self.nominal_mm, left),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WallPlan:
    """How the wall of one product is read and judged."""

    product: str
    revision: str
    effective_from: str
    """ISO date, site time."""
    length_mm: float
    steps: tuple[int, ...]
    """Steps within whose visits the wall may be read."""
    zones: tuple[Zone, ...]
    gap_mm: float
    gap_deg: float
    """The largest gaps allowed: no place may be farther than this from a reading."""
    faces: dict[int, str] = field(default_factory=dict)
    """Step to the face it cuts, where the plan says so."""

    @property
    def cuts(self) -> tuple[int, ...]:
        """Steps that take stock off the wall, in order."""
        return tuple(sorted({step for zone in self.zones for step in zone.stock}))

    def cuts_after(self, step: int) -> tuple[int, ...]:
        """The cuts still to come after a step."""
        return tuple(one for one in self.cuts if one > step)

    def zone_place(self, station_mm: float, angle_deg: float) -> int | None:
        """The place of the zone a point lies in; None where the plan has none there.

        A zone holds its lower edges; its upper ones only at the end of the case.
        """
        for place, zone in enumerate(self.zones):
            end = zone.to_mm == self.length_mm and station_mm == self.length_mm
            axial = zone.from_mm <= station_mm < zone.to_mm or end
            if axial and any(low <= angle_deg < high for low, high in zone.spans_deg):
                return place
        return None

    def hardest_limits(self, step: int) -> Limits:
        """The narrowest zone's limits after a step: what a gauge must be fine enough for."""
        zone = min(self.zones, key=lambda one: one.upper_mm - one.lower_mm)
        return zone.limits_after(step)


def _plus(mm: float, more: float) -> float:
    """A sum of planned figures without the noise that binary floats add."""
    return float(f"{mm + more:.12g}")

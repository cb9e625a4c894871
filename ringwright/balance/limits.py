"""What the planner asks of a set."""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from ringwright.core.errors import Refused

LEAST_SLOTS, MOST_SLOTS = 2, 400


class Impossible(Refused):
    """No set keeps the limits, and that is proved; `smallest` is the least feasible value."""

    def __init__(self, message: str, smallest: float | None = None) -> None:
        super().__init__(message)
        self.smallest = smallest


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The rules of one set; None: no limit. All limits include their value."""

    slots: int
    frequency_spread_hz: float | None = None
    """Largest less smallest frequency within the set."""
    moment_spread_g_mm: float | None = None
    """Largest less smallest radial moment within the set."""
    neighbour_g_mm: float | None = None
    """Largest difference of radial moments between neighbouring slots, round the ring."""
    opposite_g_mm: float | None = None
    """Largest difference of radial moments between opposite slots; even rings only."""
    alternate: bool = False
    """Each pair of neighbours: one strictly above, one strictly below the median frequency."""
    disc_g_mm: complex = 0j
    """The disc's own unbalance, as a vector from slot 1 with rising slot number."""
    locks: Mapping[int, str] = field(default_factory=dict)
    """Slot number (from 1) to the serial that must stand there."""
    excluded: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if not LEAST_SLOTS <= self.slots <= MOST_SLOTS:
            raise Refused(f"a ring has {LEAST_SLOTS} to {MOST_SLOTS} slots, not {self.slots}")
        self._check_limits()
        self._check_locks()

    def _check_limits(self) -> None:
        for name in (
            "frequency_spread_hz",
            "moment_spread_g_mm",
            "neighbour_g_mm",
            "opposite_g_mm",
        ):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value >= 0):
                raise Refused(f"{name} must be a number of 0 or more")
        if self.opposite_g_mm is not None and self.slots % 2:
            raise Refused(f"a ring of {self.slots} slots has no opposite slots to limit")
        if self.alternate and self.slots % 2:
            raise Impossible(f"high and low cannot alternate round an odd ring ({self.slots})")
        if not cmath.isfinite(self.disc_g_mm):
            raise Refused("the disc's unbalance must be finite")

    def _check_locks(self) -> None:
        for slot, serial in self.locks.items():
            if not 1 <= slot <= self.slots:
                raise Refused(f"there is no slot {slot} to lock; slots are 1 to {self.slots}")
            if serial in self.excluded:
                raise Refused(f"{serial} is locked into slot {slot} and excluded too")
        if len(set(self.locks.values())) < len(self.locks):
            raise Refused("a blade is locked into two slots")


def vector(size_g_mm: float, angle_deg: float) -> complex:
    """A vector from its size and its angle from slot 1 with rising slot number."""
    return cmath.rect(size_g_mm, math.radians(angle_deg))

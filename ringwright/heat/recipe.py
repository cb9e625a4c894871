"""A furnace recipe as data: segments of ramp and soak, and what may never be passed."""

from __future__ import annotations

from dataclasses import dataclass

RAMP = "ramp"
SOAK = "soak"
KINDS = (RAMP, SOAK)


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """One stretch of a cycle: on the way to a temperature, or held at it."""

    name: str
    kind: str
    target_c: float
    """Where a ramp ends; what a soak holds."""
    tolerance_c: float
    """Either side of the target; the edges are inside."""
    min_minutes: float | None = None
    max_minutes: float | None = None
    max_rate_c_per_min: float | None = None
    """Largest slope, heating or cooling, of any thermocouple."""
    pressure_kpa: float | None = None
    """Gauge pressure in the cavity; of a ramp, where it ends."""
    pressure_tolerance_kpa: float | None = None
    max_pressure_rate_kpa_per_min: float | None = None
    """Largest slope of the pressure, up or down."""
    max_dip_minutes: float | None = None
    """The longest single time out of band in this segment; None: the recipe's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """A step of a product that may be done by a recipe."""

    product: str
    step: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """What a furnace run must do. A run keeps the revision it was opened with."""

    segments: tuple[Segment, ...]
    ceiling_c: float | None = None
    """No thermocouple may read above this at any time."""
    max_dip_minutes: float = 5.0
    """The longest single time out of band within a soak."""
    min_channels: int = 2
    """Thermocouples that must work for the trace to decide anything."""
    code: str = ""
    name: str = ""
    revision: str = "1"
    planned_minutes: float | None = None
    """How long a whole cycle is planned to take; None: not said."""
    furnace_class: int | None = None
    """AMS 2750 class whose uniformity the furnace must have; None: not asked."""
    uses: tuple[Use, ...] = ()
    """Empty where the recipe is only judged by, from a file."""

    @property
    def planned_min(self) -> float | None:
        """How long a cycle is planned to take [min]: as said, or the least the recipe allows.

        None where neither says anything.
        """
        return self.least_min if self.planned_minutes is None else self.planned_minutes

    @property
    def least_min(self) -> float | None:
        """Shortest time in which the segments can be met one after the other [min].

        Each by its `min_minutes`, and by its largest rates from where the segment before it
        ends; where the first one starts is not known. None where nothing bounds any of them.
        """
        before = (None, *self.segments[:-1])
        times = [_least_min(one, last) for one, last in zip(self.segments, before, strict=True)]
        known = [one for one in times if one is not None]
        return sum(known) if known else None


def _least_min(one: Segment, before: Segment | None) -> float | None:
    times = [one.min_minutes]
    if before is not None:
        times += [
            _way_min(before.target_c, one.target_c, one.max_rate_c_per_min),
            _way_min(before.pressure_kpa, one.pressure_kpa, one.max_pressure_rate_kpa_per_min),
        ]
    return max((time for time in times if time is not None), default=None)


def _way_min(
    begin: float | None, end: float | None, rate_per_min: float | None
) -> float | None:
    if begin is None or end is None or rate_per_min is None or begin == end:
        return None
    return abs(end - begin) / rate_per_min

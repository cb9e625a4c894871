"""What the Floor shows, as data: parts where they stand, steps, and what is shut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.flow.loads import Load
from ringwright.parts.windows import PartWindow
from ringwright.sites.site import Station

HOUR_US: Final = 3_600_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One part where it stands: waiting for a step, or in work at it."""

    serial: str
    product: str
    revision: str
    step: int
    in_work: bool
    since_us: int
    age_us: int
    plan_us: int | None
    """Planned queue while it waits, planned hours while in work; None: no plan is known."""
    station: str
    """Where it is in work, or was in work last."""
    touched_by: str
    lot: str | None
    used_lot: str | None
    hold: str | None = None
    reservation: str | None = None
    """The set it is reserved for, though it is no longer released."""
    priority: int = 0
    sought: bool = False
    whereabouts: tuple[str, ...] = ()
    """Where it lies: the carrier first, then where that stands; empty: never recorded."""
    window: PartWindow | None = None
    """The one that is over first, of those the part must still make."""

    @property
    def ratio(self) -> float:
        """Time at the step over plan; without a plan nothing is late."""
        if self.plan_us is None:
            return 0.0
        return self.age_us / self.plan_us if self.plan_us else float(self.age_us > 0) * 99.0

    @property
    def over_plan(self) -> bool:
        """True when it has been here longer than planned."""
        return self.plan_us is not None and self.age_us > self.plan_us

    @property
    def window_left_us(self) -> int | None:
        """Time until its window is over; negative once it is."""
        return None if self.window is None else self.window.left_us

    @property
    def window_over(self) -> bool:
        """True when the step after may no longer begin."""
        return self.window is not None and self.window.bars

    @property
    def late(self) -> bool:
        """Over plan at the step, or its window is over."""
        return self.over_plan or self.window_over


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorStep:
    """A step of the route line."""

    number: int
    name: str
    kind: str
    station_group: str
    planned_hours: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shut:
    """A station, recipe, lot or step that is shut."""

    subject: str
    kind: str
    code: str
    reason: str
    opener: str
    since_us: int
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductCount:
    """A product and how many parts of it stand on the floor."""

    code: str
    name: str
    family: str
    parts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorSheet:
    """One product's floor, from one snapshot."""

    site: str
    site_name: str
    zone: str
    now_us: int
    as_of: bool
    head_seq: int
    head_hash: str
    last_entry_us: int | None
    products: tuple[ProductCount, ...]
    product: str
    """Empty while no route card is loaded, or where all products are asked for."""
    steps: tuple[FloorStep, ...]
    parts: tuple[Standing, ...]
    shut: tuple[Shut, ...]
    stations: tuple[Station, ...]
    loads: tuple[Load, ...]
    names: dict[tuple[str, int], str]
    """(product, step) to the step's name, of all products."""
    ever: bool = True
    """False while no part was ever created."""

    @property
    def family(self) -> str:
        """The product's family, for the noun of its parts."""
        return next((p.family for p in self.products if p.code == self.product), "other")

    @property
    def name(self) -> str:
        """The product's name."""
        return next((p.name for p in self.products if p.code == self.product), "")


def steps_of_station(steps: tuple[FloorStep, ...], station: Station) -> tuple[FloorStep, ...]:
    """The steps that a station works at: those that name its group or the station itself."""
    names = {station.group, station.code} - {""}
    return tuple(step for step in steps if step.station_group in names)

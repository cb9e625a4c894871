"""A route card as data: the ordered steps of a product at a revision."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from ringwright.core.conformity import INSIDE, Limits, verdict

FAMILIES = ("fan-blade", "case", "turbine-blade", "other")
STEP_KINDS = (
    "forming",
    "joining",
    "cleaning",
    "heat-cycle",
    "casting",
    "machining",
    "inspection",
    "finishing",
    "receipt",
    "dispatch",
)
ROLES_OF_CHARACTERISTIC = ("moment", "tangential", "axial", "frequency", "mass")
DECISIONS = ("simple", "guarded")


@dataclass(frozen=True, kw_only=True)
class Characteristic:
    """One thing read at a step: nominal, limits and unit as the drawing gives them."""

    code: str
    unit: str
    nominal: float | None = None
    lower: float | None = None
    upper: float | None = None
    decimals: int = 3
    role: str | None = None
    gauge_kind: str | None = None
    decision: str = "simple"
    mode: str = ""
    """Name of the natural mode whose frequency it is (first flap); empty: none is named."""
    search: tuple[float, float] | None = None
    """Where a ring test looks for that mode [Hz]."""

    @property
    def limits(self) -> Limits:
        """What a reading of it is judged by."""
        return Limits(lower=self.lower, upper=self.upper, nominal=self.nominal)

    @property
    def guarded(self) -> bool:
        """True where a reading must lie inside its limits by a guard band."""
        return self.decision == "guarded"

    def verdict(self, value: float, uncertainty: float | None = None) -> str:
        """`inside`, `in the guard band` or `outside`, by its decision rule."""
        return verdict(value, self.limits, uncertainty, guarded=self.guarded)

    def inside(self, value: float, uncertainty: float | None = None) -> bool:
        """True when the reading is accepted; the limits themselves are inside."""
        return self.verdict(value, uncertainty) == INSIDE


@dataclass(frozen=True, kw_only=True)
class Window:
    """A step must begin within `max_hours` of the end of step `after`."""

    after: int
    max_hours: float


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step of a route card."""

    number: int
    name: str
    kind: str
    station_group: str = ""
    planned_hours: float = 0.0
    queue_hours: float = 0.0
    characteristics: tuple[Characteristic, ...] = ()
    window: Window | None = None
    authorisation: str | None = None
    max_visits: int | None = None

    def characteristic(self, code: str) -> Characteristic | None:
        """The characteristic of that code, or None."""
        return next((c for c in self.characteristics if c.code == code), None)


@dataclass(frozen=True, kw_only=True)
class ReworkCard:
    """The steps to repeat after a rework raised at one step; the part then returns there."""

    code: str
    name: str
    raised_at: int
    repeat: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class RouteCard:
    """The ordered steps of a product at a revision. A part keeps the revision it started on."""

    product: str
    name: str
    revision: str = "1"
    effective_from: str | None = None
    """ISO date; None: from the beginning."""
    family: str = "other"
    set_size: int | None = None
    target_per_week: float | None = None
    steps: tuple[Step, ...] = ()
    rework_cards: tuple[ReworkCard, ...] = ()

    @cached_property
    def order(self) -> tuple[int, ...]:
        """Step numbers in the order of the route."""
        return tuple(step.number for step in self.steps)

    @cached_property
    def index(self) -> dict[int, int]:
        """Step number to its place in the route, from 0."""
        return {number: place for place, number in enumerate(self.order)}

    @cached_property
    def by_number(self) -> dict[int, Step]:
        """Step number to step."""
        return {step.number: step for step in self.steps}

    @property
    def first(self) -> int:
        """Number of the first step."""
        return self.order[0]

    @property
    def last(self) -> int:
        """Number of the last step; its end is the release."""
        return self.order[-1]

    def after(self, number: int) -> int | None:
        """The step that follows in the route, or None after the last."""
        place = self.index[number] + 1
        return self.order[place] if place < len(self.order) else None

    def rework_card(self, code: str) -> ReworkCard | None:
        """The rework card of that code, or None."""
        return next((card for card in self.rework_cards if card.code == code), None)

    @property
    def plan_h(self) -> float:
        """Planned cycle time [h]: the sum of planned and queue hours over the steps."""
        return sum(step.planned_hours + step.queue_hours for step in self.steps)


FindCard = Callable[[str, str], RouteCard]
"""(product, revision) to the route card."""

"""What machining of a product needs, as data: hours, machines, fixtures; words of a stop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_

TOOL_BROKEN, WAIT_TOOL, WAIT_MEASURE = "tool broken", "waiting for tool", "waiting measurement"
WAIT_CRANE, DOWN, MATERIAL, NO_MAKER = (
    "waiting for crane",
    "machine down",
    "material",
    "no maker",
)
OTHER = "other"
REASONS: Final[dict[str, str]] = {
    TOOL_BROKEN: N_("tool broken"),
    WAIT_TOOL: N_("waiting for a tool"),
    WAIT_MEASURE: N_("waiting for measurement"),
    WAIT_CRANE: N_("waiting for the crane"),
    DOWN: N_("machine down"),
    MATERIAL: N_("material"),
    NO_MAKER: N_("no maker"),
    OTHER: N_("another reason"),
}
"""Why a spindle stands, each with its word on the screen."""
BOARD: Final = "case"
"""The board of the case shop, as the record names it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What one machining step of a product needs."""

    step: int
    set_up_h: float
    spindle_h: float
    machines: tuple[str, ...]
    """Stations that may do it, the preferred first."""
    fixture: str = ""
    """Kind of fixture held from set-up to end; empty: none."""

    @property
    def total_h(self) -> float:
        """Set-up and spindle together."""
        return self.set_up_h + self.spindle_h


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixture:
    """A kind of fixture, and how many there are."""

    kind: str
    count: int
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachiningPlan:
    """The needs of one product, step by step."""

    product: str
    needs: tuple[Need, ...]

    @property
    def by_step(self) -> dict[int, Need]:
        """Needs by step number."""
        return {need.step: need for need in self.needs}


@dataclass(frozen=True, slots=True, kw_only=True)
class MachiningFile:
    """What a file of machining holds: one product's plan, and fixtures."""

    plan: MachiningPlan
    fixtures: tuple[Fixture, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """An operation where the planner has it."""

    serial: str
    step: int
    machine: str
    start_us: int
    locked: bool = False

"""What can happen to machining plans, fixtures, spindles and the planner's board."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class MachiningPlanned(Fact):
    """What machining of a product needs, from now on."""

    kind: ClassVar[str] = "machining-plan"
    subject_kind: ClassVar[str] = "machining"
    needs: list[dict[str, Any]]
    """The fields of `ringwright.machines.card.Need`, one a step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FixtureSet(Fact):
    """How many there are of a kind of fixture, from now on."""

    kind: ClassVar[str] = "fixture-set"
    subject_kind: ClassVar[str] = "fixture"
    count: int
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpindleFact(Fact):
    """A fact whose subject is a week of a spindle: station and site week."""

    subject_kind: ClassVar[str] = "spindle"
    serial: str = ""
    """The part whose visit was open at the station; empty where there was none."""
    step: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUpBegun(SpindleFact):
    """The part is being set up: clamped, trued, tools put in."""

    kind: ClassVar[str] = "set-up-begun"


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingBegun(SpindleFact):
    """The spindle cuts."""

    kind: ClassVar[str] = "cutting-begun"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpindleStopped(SpindleFact):
    """The machine stands, and this is why."""

    kind: ClassVar[str] = "spindle-stopped"
    reason: str
    """One of `ringwright.machines.card.REASONS`."""
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpindleResumed(SpindleFact):
    """It goes on with what the stop broke off."""

    kind: ClassVar[str] = "spindle-resumed"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpindleOff(SpindleFact):
    """The machine is switched off: the work is done, or the shop closes."""

    kind: ClassVar[str] = "spindle-off"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardFact(Fact):
    """A fact whose subject is the planner's board of a shop."""

    subject_kind: ClassVar[str] = "board"
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanKept(BoardFact):
    """The planner keeps a whole plan."""

    kind: ClassVar[str] = "plan-kept"
    placements: list[dict[str, Any]]
    """The fields of `ringwright.machines.card.Placed`."""
    proposed: bool = False
    """True where it was kept as it was proposed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementChanged(BoardFact):
    """The planner puts one operation elsewhere, or fixes or frees it."""

    kind: ClassVar[str] = "placement-changed"
    placement: dict[str, Any]


FACTS: tuple[type[Fact], ...] = (
    MachiningPlanned,
    FixtureSet,
    SetUpBegun,
    CuttingBegun,
    SpindleStopped,
    SpindleResumed,
    SpindleOff,
    PlanKept,
    PlacementChanged,
)

"""What can happen to a wall plan, and to the wall map of a case."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class WallPlanSet(Fact):
    """How the wall of a product is read and judged, from a day on; subject: the product."""

    kind: ClassVar[str] = "wall-plan-set"
    subject_kind: ClassVar[str] = "wall-plan"
    plan: dict[str, Any]
    """As `ringwright.walls.toml.plan_data` writes it."""
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WallFact(Fact):
    """A fact whose subject is the wall of a case, by the case's serial."""

    subject_kind: ClassVar[str] = "wall"


@dataclass(frozen=True, slots=True, kw_only=True)
class WallRead(WallFact):
    """The wall was read all round at a step; the readings are kept under their digest."""

    kind: ClassVar[str] = "wall-read"
    product: str
    revision: str
    """The wall plan's, by which the set is judged for good."""
    step: int
    method: str
    digest: str
    readings: int
    gauge: str | None = None
    u_mm: float | None = None
    """Standard uncertainty of one reading by the gauge's record then."""
    source: str = ""
    """The file's name, or the system that sent them."""
    file_digest: str = ""
    """SHA-256 of the file as it was handed in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WallReadWithdrawn(WallFact):
    """A set of readings does not count: of another case, or with a wrong zero."""

    kind: ClassVar[str] = "wall-read-withdrawn"
    entry: int
    """The entry of the set."""
    reason: str


FACTS: tuple[type[Fact], ...] = (WallPlanSet, WallRead, WallReadWithdrawn)

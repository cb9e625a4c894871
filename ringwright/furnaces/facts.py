"""What can happen to a furnace, to a recipe and to a furnace run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class FurnaceFact(Fact):
    """A fact whose subject is a furnace, by the code of its station."""

    subject_kind: ClassVar[str] = "furnace"


@dataclass(frozen=True, slots=True, kw_only=True)
class FurnaceSet(FurnaceFact):
    """What the furnace is, from now on."""

    kind: ClassVar[str] = "furnace-set"
    furnace: dict[str, Any]
    """The fields of `ringwright.furnaces.card.Furnace`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FurnaceProved(FurnaceFact):
    """A survey, accuracy test, leak rate or gas purity was taken, and this was found."""

    kind: ClassVar[str] = "furnace-proved"
    proof: dict[str, Any]
    """The fields of `ringwright.furnaces.card.Proved`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermocoupleRenewed(FurnaceFact):
    """A thermocouple of the load was replaced; its uses count from here."""

    kind: ClassVar[str] = "thermocouple-renewed"
    channel: str
    gauge: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnsKept(FurnaceFact):
    """How the recorder of this furnace writes its files."""

    kind: ClassVar[str] = "recorder-columns"
    columns: dict[str, Any]
    """The fields of `ringwright.furnaces.card.Columns`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeRevised(Fact):
    """A recipe as it holds from now on; runs keep the revision they were opened with."""

    kind: ClassVar[str] = "recipe-revised"
    subject_kind: ClassVar[str] = "recipe"
    recipe: dict[str, Any]
    """The fields of `ringwright.heat.recipe.Recipe`."""
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFact(Fact):
    """A fact whose subject is a furnace run."""

    subject_kind: ClassVar[str] = "run"
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOpened(RunFact):
    """A run is being made up in this furnace, by this revision of a recipe."""

    kind: ClassVar[str] = "run-opened"
    furnace: str
    recipe: str
    revision: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLoaded(RunFact):
    """A part lies in this position of the furnace for the run."""

    kind: ClassVar[str] = "part-loaded"
    serial: str
    step: int
    position: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartUnloaded(RunFact):
    """The part was taken out again before the run began."""

    kind: ClassVar[str] = "part-unloaded"
    serial: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunStarted(RunFact):
    """The cycle began, with everything in the load in work."""

    kind: ClassVar[str] = "run-started"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunAborted(RunFact):
    """The cycle was broken off, or the run given up before it began."""

    kind: ClassVar[str] = "run-aborted"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFinished(RunFact):
    """The cycle ran to its end; what its trace says decides."""

    kind: ClassVar[str] = "run-finished"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsKept(RunFact):
    """Readings of the recorder, kept under their digest; a run may have many batches."""

    kind: ClassVar[str] = "readings-kept"
    digest: str
    first_us: int
    last_us: int
    samples: int
    source: str = ""
    """The file's name, or the system that sent them."""
    file_digest: str = ""
    """SHA-256 of the file as it was handed in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunJudged(RunFact):
    """What the trace says of the cycle, by the recipe's revision."""

    kind: ClassVar[str] = "run-judged"
    judgement: dict[str, Any]
    """As `ringwright furnace --json` answers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunAccepted(RunFact):
    """Somebody who did not run it looked at gas, thermocouples and coupons, and accepted."""

    kind: ClassVar[str] = "run-accepted"
    gas: str
    thermocouples: str
    coupons: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunClosed(RunFact):
    """Engineering review is over: every part of the held run has its sentence."""

    kind: ClassVar[str] = "run-closed"


FACTS: tuple[type[Fact], ...] = (
    FurnaceSet,
    FurnaceProved,
    ThermocoupleRenewed,
    ColumnsKept,
    RecipeRevised,
    RunOpened,
    PartLoaded,
    PartUnloaded,
    RunStarted,
    RunAborted,
    RunFinished,
    ReadingsKept,
    RunJudged,
    RunAccepted,
    RunClosed,
)

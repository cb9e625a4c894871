"""What can happen to an alloy, a lot of material, a swarf container, and to a part's mass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class AlloySet(Fact):
    """What an alloy is, and which products are made of it, from now on."""

    kind: ClassVar[str] = "alloy-set"
    subject_kind: ClassVar[str] = "alloy"
    alloy: dict[str, Any]
    """The fields of `ringwright.material.card.Alloy`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotSet(Fact):
    """What a lot of material is and what it may be used for, from now on."""

    kind: ClassVar[str] = "lot-set"
    subject_kind: ClassVar[str] = "lot"
    lot: dict[str, Any]
    """The fields of `ringwright.material.card.Lot`."""
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerFact(Fact):
    """A fact whose subject is a swarf container; a correction names its entry and says why."""

    subject_kind: ClassVar[str] = "swarf container"
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerOpened(ContainerFact):
    """An empty container stands ready for swarf of one kind and one alloy."""

    kind: ClassVar[str] = "container-opened"
    alloy: str
    """Empty: for mixed swarf, which no melter takes back as material."""
    swarf: str
    """One of `ringwright.massing.swarf.KINDS`."""
    tare_kg: float
    tare_u_kg: float
    place: str = ""
    moisture: float = 0.0
    """What share of wet swarf is coolant here, as a dried sample said."""
    moisture_u: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SwarfAdded(ContainerFact):
    """Swarf of one part at one step was put in."""

    kind: ClassVar[str] = "swarf-added"
    serial: str
    step: int
    net_kg: float
    u_kg: float
    wet: bool
    gauge: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerWeighed(ContainerFact):
    """The container was weighed with what is in it."""

    kind: ClassVar[str] = "container-weighed"
    full_kg: float
    u_kg: float
    gauge: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerSealed(ContainerFact):
    """Nothing more goes in."""

    kind: ClassVar[str] = "container-sealed"


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerFoundMixed(ContainerFact):
    """Another alloy, or something that is no metal, was found among the swarf."""

    kind: ClassVar[str] = "container-found-mixed"


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerSent(ContainerFact):
    """It left the shop with a paper."""

    kind: ClassVar[str] = "container-sent"
    to: str
    paper: str
    melts: bool
    """True: to be melted into material again; False: downgraded, it comes back as none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerReturned(ContainerFact):
    """The melter made it into this lot."""

    kind: ClassVar[str] = "container-returned-as-lot"
    lot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerCorrected(ContainerFact):
    """An entry was wrong: it does not count, or counts with another mass."""

    kind: ClassVar[str] = "container-corrected"
    kg: float | None = None
    """The mass it should have said; None: it never happened."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialAdded(Fact):
    """Material was put on a part: vanes, filler wire. Its mass went in like the forging's."""

    kind: ClassVar[str] = "material-added"
    subject_kind: ClassVar[str] = "mass of a part"
    step: int
    what: str
    net_kg: float
    u_kg: float
    gauge: str | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialCorrected(Fact):
    """Material booked on a part by mistake does not count."""

    kind: ClassVar[str] = "material-corrected"
    subject_kind: ClassVar[str] = "mass of a part"
    reason: str


FACTS: tuple[type[Fact], ...] = (
    AlloySet,
    LotSet,
    ContainerOpened,
    SwarfAdded,
    ContainerWeighed,
    ContainerSealed,
    ContainerFoundMixed,
    ContainerSent,
    ContainerReturned,
    ContainerCorrected,
    MaterialAdded,
    MaterialCorrected,
)

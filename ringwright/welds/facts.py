"""What can happen to a weld plan, and to the welds of a ring."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldPlanSet(Fact):
    """A revision of a product's weld plan; rings keep the one they were begun on."""

    kind: ClassVar[str] = "weld-plan-set"
    subject_kind: ClassVar[str] = "weld-plan"
    plan: dict[str, Any]
    """As `ringwright.welds.toml.plan_data` writes it."""
    effective_us: int
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RingFact(Fact):
    """A fact whose subject is the ring of vanes of a part, by the part's serial."""

    subject_kind: ClassVar[str] = "ring"


@dataclass(frozen=True, slots=True, kw_only=True)
class RingOpened(RingFact):
    """The ring is begun, on this revision of its weld plan."""

    kind: ClassVar[str] = "ring-opened"
    product: str
    revision: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VanesFitted(RingFact):
    """Vanes stand in the ring, this far from where the drawing has them."""

    kind: ClassVar[str] = "vanes-fitted"
    vanes: tuple[dict[str, Any], ...]
    """Each: vane, radial_mm (outward is positive), axial_mm (forward is positive)."""
    gauge: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldsMade(RingFact):
    """Welds were made for the first time."""

    kind: ClassVar[str] = "welds-made"
    welds: tuple[str, ...]
    welder: str
    filler_lot: str
    procedure: str
    oxygen_ppm: float
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PenetrantRead(RingFact):
    """Welds were tested with penetrant: these show nothing, those show something."""

    kind: ClassVar[str] = "penetrant-read"
    clear: tuple[str, ...] = ()
    shown: tuple[str, ...] = ()
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmTaken(RingFact):
    """One exposure of welds, on film or on a digital detector."""

    kind: ClassVar[str] = "film-taken"
    film: str
    welds: tuple[str, ...]
    technique: str
    technique_class: str
    iqi: str
    """What the image quality indicator is: W for wires (ISO 19232-1)."""
    wire: int
    """Number of the finest wire seen; 0 for none."""
    file: str | None = None
    """SHA-256 of the picture kept, or where the film lies."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmRead(RingFact):
    """A film was read: a verdict for every weld on it."""

    kind: ClassVar[str] = "film-read"
    film: str
    accepted: tuple[str, ...] = ()
    not_accepted: tuple[str, ...] = ()
    defects: tuple[dict[str, Any], ...] = ()
    """Each: weld, kind (number of ISO 6520-1), size_mm, at_mm (along the weld)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldExcavated(RingFact):
    """A weld was ground out where it is not accepted."""

    kind: ClassVar[str] = "weld-excavated"
    weld: str
    depth_mm: float
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExcavationProved(RingFact):
    """An excavation was tested before it is welded again."""

    kind: ClassVar[str] = "excavation-proved"
    weld: str
    method: str
    """penetrant or radiograph."""
    clear: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldRedone(RingFact):
    """An excavation proved clear was welded: one more repair of this location."""

    kind: ClassVar[str] = "weld-redone"
    weld: str
    welder: str
    filler_lot: str
    procedure: str
    oxygen_ppm: float
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StressRelieved(RingFact):
    """The ring went through a heat cycle after its repairs."""

    kind: ClassVar[str] = "stress-relieved"
    welds: tuple[str, ...]
    run: str
    """The furnace run, or the visit's step and day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldEntryWithdrawn(RingFact):
    """An entry of the ring does not stand; the envelope names it."""

    kind: ClassVar[str] = "weld-entry-withdrawn"
    reason: str


FACTS: tuple[type[Fact], ...] = (
    WeldPlanSet,
    RingOpened,
    VanesFitted,
    WeldsMade,
    PenetrantRead,
    FilmTaken,
    FilmRead,
    WeldExcavated,
    ExcavationProved,
    WeldRedone,
    StressRelieved,
    WeldEntryWithdrawn,
)

"""A ring of vanes as its facts have left it: its welds, vanes and films."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

from ringwright.core.facts import Entry
from ringwright.core.glossary import N_
from ringwright.welds.card import WeldPlan

NOT_WELDED, WELDED, REWELDED = "not welded", "welded", "rewelded"
TO_RELIEVE, TO_RADIOGRAPH, TO_READ = "to relieve", "to radiograph", "to read"
ACCEPTED, TO_EXCAVATE, EXCAVATED = "accepted", "to excavate", "excavated"
PROVED_CLEAR, AT_LIMIT = "proved clear", "at the limit"
NEXT: Final[dict[str, str]] = {
    NOT_WELDED: N_("weld it"),
    WELDED: N_("test it with penetrant"),
    REWELDED: N_("test it with penetrant"),
    TO_RELIEVE: N_("relieve stress before it is radiographed again"),
    TO_RADIOGRAPH: N_("radiograph it"),
    TO_READ: N_("have its film read, not by its welder"),
    ACCEPTED: N_("nothing"),
    TO_EXCAVATE: N_("excavate it"),
    EXCAVATED: N_("prove the excavation clear before it is welded again"),
    PROVED_CLEAR: N_("weld it again"),
    AT_LIMIT: N_("the design authority decides"),
}
"""State of a weld to what is done next."""


@dataclass(slots=True)
class Pass:
    """One time a location was welded; number 0 is the first, each later one a repair."""

    number: int
    entry: int
    at_us: int
    known_us: int
    welder: str
    filler_lot: str
    procedure: str
    oxygen_ppm: float
    colour: str


@dataclass(slots=True)
class Reading:
    """A verdict on one weld."""

    entry: int
    at_us: int
    known_us: int
    film: str
    passed: int
    """Number of the pass it is a verdict on."""
    reader: str
    accepted: bool
    defects: list[dict[str, Any]]
    again: bool
    """True when the weld was radiographed again for a repair beside it."""


@dataclass(slots=True)
class Weld:
    """One weld and all that happened to it."""

    code: str
    state: str = NOT_WELDED
    passes: list[Pass] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    film: str = ""
    """The film that is to be read, or was read last."""
    beside: str = ""
    """The repaired weld because of which it is radiographed again."""

    @property
    def repairs(self) -> int:
        """How often its location was repaired."""
        return max(0, len(self.passes) - 1)

    @property
    def welders(self) -> list[str]:
        """Whoever made any pass of it."""
        return list(dict.fromkeys(one.welder for one in self.passes))


@dataclass(slots=True)
class Vane:
    """Where a vane stands, by its last reading."""

    number: int
    radial_mm: float
    axial_mm: float
    entry: int
    at_us: int
    by: str
    gauge: str = ""


@dataclass(slots=True)
class Film:
    """One exposure."""

    code: str
    welds: tuple[str, ...]
    technique: str
    technique_class: str
    iqi: str
    wire: int
    good: bool
    """False when the wire asked was not seen: it is taken again and gets no verdict."""
    entry: int
    at_us: int
    known_us: int
    radiographer: str
    file: str = ""
    read_by: str = ""
    read_us: int | None = None


@dataclass(slots=True)
class Ring:
    """All of it."""

    serial: str
    plan: WeldPlan | None = None
    welds: dict[str, Weld] = field(default_factory=dict)
    vanes: dict[int, Vane] = field(default_factory=dict)
    films: dict[str, Film] = field(default_factory=dict)
    events: list[tuple[Entry, tuple[str, ...]]] = field(default_factory=list)
    """Entries that stand, each with the welds it is about, in recorded order."""
    withdrawn: list[tuple[Entry, Entry]] = field(default_factory=list)
    """Entries that do not stand, each with the one that says so."""
    last_seq: int = 0
    last_at_us: int = 0

    @property
    def ruled(self) -> WeldPlan:
        """Its plan; a ring that was begun has one."""
        assert self.plan is not None
        return self.plan

    def in_state(self, *states: str) -> list[str]:
        """Welds in one of the states, in the plan's order."""
        return [code for code, weld in self.welds.items() if weld.state in states]

    @property
    def open(self) -> list[str]:
        """Welds that are not accepted."""
        return [code for code, weld in self.welds.items() if weld.state != ACCEPTED]

    @property
    def done(self) -> bool:
        """True when every weld is accepted."""
        return bool(self.welds) and not self.open


def ring_on(serial: str, plan: WeldPlan) -> Ring:
    """A ring of which nothing is recorded yet."""
    return Ring(serial, plan, {code: Weld(code) for code in plan.welds})

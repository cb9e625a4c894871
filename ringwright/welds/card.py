"""The weld plan of a product as data: its vanes, its welds, how each is made and accepted."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

from ringwright.core.glossary import N_

CLOCKWISE, COUNTERCLOCKWISE = "clockwise", "counterclockwise"
DIRECTIONS: Final[dict[str, str]] = {
    CLOCKWISE: N_("clockwise"),
    COUNTERCLOCKWISE: N_("counterclockwise"),
}
"""How the vanes are numbered, seen from the front."""
OUTER, INNER = "outer", "inner"
PLACES: Final = (OUTER, INNER)
"""Where a weld lies: at the case wall, or at the inner ring."""
PROCESSES: Final[dict[str, str]] = {
    "141": N_("TIG welding"),
    "15": N_("plasma arc welding"),
    "51": N_("electron beam welding"),
    "52": N_("laser beam welding"),
}
"""Process numbers of ISO 4063 (from memory)."""
BEAM: Final = ("51", "52")
"""Processes that ISO 5817 leaves out (its title says: beam welding excluded)."""
FUSION_STANDARD, BEAM_STANDARD = "ISO 5817", "ISO 13919-1"
STANDARDS: Final = (FUSION_STANDARD, BEAM_STANDARD, "AWS D17.1")
LEVELS: Final[dict[str, tuple[str, ...]]] = {
    FUSION_STANDARD: ("B", "C", "D"),
    BEAM_STANDARD: ("B", "C", "D"),
    "AWS D17.1": ("A", "B", "C"),
}
"""Quality levels or classes of each, the strictest first (from memory)."""
TECHNIQUES: Final[dict[str, str]] = {
    "ISO 17636-1": N_("film"),
    "ISO 17636-2": N_("digital detector"),
}
CLASSES: Final = ("A", "B")
"""Technique classes of ISO 17636: A basic, B improved."""
RADIOGRAPH_LEVELS: Final = (1, 2, 3)
"""Acceptance levels of ISO 10675-1, the strictest first."""
FIRST_WIRE, LAST_WIRE = 1, 19


def wire_mm(number: int) -> float:
    """Diameter of wire W1 to W19 [mm]: 3.2 falling by the tenth root of ten (ISO 19232-1)."""
    return 3.2 / 10 ** ((number - 1) / 10)


@dataclass(frozen=True, kw_only=True)
class Joint:
    """One weld that every vane has."""

    code: str
    kind: str
    """As the drawing says it: T-joint, butt weld, fillet weld."""
    length_mm: float
    angle_deg: float = 0.0
    """From the vane, in the direction that vanes are numbered."""
    place: str = OUTER
    adjoins: tuple[str, ...] = ()
    """Codes of welds of the same vane that its heat reaches."""


@dataclass(frozen=True, kw_only=True)
class Acceptance:
    """By what a weld is accepted: words and levels, by reference to the standards."""

    standard: str
    level: str
    radiograph_level: int
    """Acceptance level of ISO 10675-1."""
    technique: str
    technique_class: str
    wire: int
    """Finest wire that must be seen (ISO 19232-1): W13 and every thicker one."""


@dataclass(frozen=True, kw_only=True)
class WeldPlan:
    """How the vanes of a product are welded, at one revision."""

    product: str
    revision: str
    effective_from: str
    """ISO date, site time; empty: at once."""
    vanes: int
    joints: tuple[Joint, ...]
    acceptance: Acceptance
    process: str
    procedure: str
    filler: str
    """Specification that the filler must be of."""
    welding_step: int
    radiograph_step: int
    accepted_after: int
    """The step that is ended with a pass only when every weld is accepted."""
    welder: str
    """Authorisation that a welder must hold."""
    reader: str
    """Authorisation that a reader of radiographs must hold."""
    radiographer: str
    repair_limit: int
    """Repairs of one location; from the procedure, since no standard has one for all."""
    relieve: bool
    """True when stress is relieved after a repair, before it is radiographed again."""
    adjoining_vanes: int
    """Vanes to each side whose same weld is radiographed again after a repair."""
    penetrant: bool
    colours: tuple[str, ...]
    """Colours of the weld that are accepted; the plan's own list."""
    oxygen_ppm: float
    """Largest oxygen in the purge."""
    radial_mm: float
    axial_mm: float
    """How far a vane may lie from where the drawing has it, either way."""
    first_angle_deg: float = 0.0
    """Of vane 1, from the top."""
    direction: str = CLOCKWISE

    @property
    def numbers(self) -> tuple[int, ...]:
        """The vanes by number."""
        return tuple(range(1, self.vanes + 1))

    @cached_property
    def welds(self) -> tuple[str, ...]:
        """Every weld of the ring, vane by vane: 1-OUT, 1-IN, 2-OUT …"""
        return tuple(
            f"{vane}-{joint.code}" for vane in range(1, self.vanes + 1) for joint in self.joints
        )

    def vane_of(self, weld: str) -> int:
        """The vane of a weld of this plan."""
        return int(weld.partition("-")[0])

    def joint_of(self, weld: str) -> Joint:
        """What the plan says of a weld."""
        code = weld.partition("-")[2]
        return next(one for one in self.joints if one.code == code)

    def angle_of(self, vane: int) -> float:
        """Where a vane stands [deg], clockwise from the top seen from the front."""
        turn = 360.0 * (vane - 1) / self.vanes
        return (self.first_angle_deg + (turn if self.direction == CLOCKWISE else -turn)) % 360.0

    def angle_of_weld(self, weld: str) -> float:
        """Where a weld lies [deg], clockwise from the top seen from the front."""
        along = self.joint_of(weld).angle_deg
        sign = 1.0 if self.direction == CLOCKWISE else -1.0
        return (self.angle_of(self.vane_of(weld)) + sign * along) % 360.0

    def adjoining(self, weld: str) -> tuple[str, ...]:
        """The welds that a repair of this one reaches, which are radiographed again with it."""
        vane, joint = self.vane_of(weld), self.joint_of(weld)
        found = [f"{vane}-{code}" for code in joint.adjoins]
        for by in range(1, self.adjoining_vanes + 1):
            sides = (vane - by, vane + by)
            found += [f"{(other - 1) % self.vanes + 1}-{joint.code}" for other in sides]
        return tuple(dict.fromkeys(one for one in found if one != weld))

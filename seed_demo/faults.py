"""What goes wrong in the invented factory: chances, defects and what follows from them.

All figures are ours, chosen to look plausible; no source stands behind any of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Fault:
    """One way a visit goes wrong."""

    defect: str
    chance: float
    outcome: str
    """rework: booked at once by its card. The others: after a stop and its sentence."""
    card: str = ""
    """Rework card; also that of a repair, which goes back to the card's first step."""
    reads: str = ""
    """Characteristic that reads outside its limits when this is found."""
    caused: tuple[int, ...] = ()
    """Steps that may have caused it; none: the step that found it."""
    places: tuple[str, ...] = ()
    """Where on the part it may sit."""


_SKIN: Final = ("upper cavity", "mid cavity", "lower cavity")
_EDGES: Final = ("leading edge", "trailing edge", "tip")
_AIRFOIL: Final = ("airfoil pressure side", "airfoil suction side")

FAULTS: Final[dict[tuple[str, int], tuple[Fault, ...]]] = {
    ("HF22-BLADE", 10): (
        Fault("sheet out of thickness", 0.003, "scrap", reads="sheet_thickness"),
    ),
    ("HF22-BLADE", 40): (
        Fault("unbonded area", 0.012, "scrap", "", "unbonded_area", (20, 30, 30), _SKIN),
        Fault("unbonded at the edge", 0.008, "concession", "", "unbonded_area", (20,), _EDGES),
    ),
    ("HF22-BLADE", 70): (
        Fault("skin torn in inflation", 0.006, "scrap", "", "", (70, 30), _SKIN),
    ),
    ("HF22-BLADE", 100): (
        Fault("surface indication", 0.025, "rework", "RW-BLEND", "", (), _EDGES),
        Fault("crack at the root", 0.004, "scrap", "", "", (90,), ("root",)),
        Fault("indication that wiped off", 0.008, "withdrawn", "", "", (), _EDGES),
    ),
    ("HF22-BLADE", 110): (
        Fault("skin too thick", 0.03, "rework", "RW-ETCH", "skin_thickness_min", (80,), _SKIN),
        Fault("core buckled", 0.010, "scrap", "", "", (70, 70, 30), _SKIN),
        Fault("stagger out of limits", 0.014, "sent back", "RW-RETWIST", "tip_stagger", (50,)),
        Fault("root width out of limits", 0.006, "scrap", "", "root_width", (90,), ("root",)),
        Fault("handling dent", 0.010, "repair", "RW-ETCH", "", (90, 80), _EDGES),
    ),
    ("HF22-BLADE", 120): (
        Fault("moment out of limits", 0.02, "rework", "RW-TIP", "moment", (90,), ("tip",)),
    ),
    ("HF22-BLADE", 130): (
        Fault("frequency out of limits", 0.006, "scrap", "", "flap_1", (70, 50)),
    ),
    ("PT68-BLADE", 20): (
        Fault("core cracked in the wax", 0.02, "scrap", "", "", (10,), ("core",)),
        Fault("core out of place", 0.012, "rework", "RW-WAX", "", (10,), ("core",)),
    ),
    ("PT68-BLADE", 40): (Fault("misrun", 0.006, "scrap", "", "", (30, 40), ("tip",)),),
    ("PT68-BLADE", 60): (
        Fault("stray grain", 0.022, "scrap", "", "misorientation", (40,), _AIRFOIL),
        Fault(
            "grain boundary near the limit",
            0.006,
            "concession",
            "",
            "misorientation",
            (40,),
            ("platform",),
        ),
    ),
    ("PT68-BLADE", 80): (
        Fault("surface indication", 0.012, "rework", "RW-GRAIN", "", (), _AIRFOIL),
        Fault("hot tear", 0.004, "scrap", "", "", (40,), ("platform", "root")),
    ),
    ("PT68-BLADE", 90): (
        Fault("core left inside", 0.025, "rework", "RW-LEACH", "", (50,), ("core",)),
        Fault("inclusion", 0.010, "scrap", "", "", (40, 30), ("root", *_AIRFOIL)),
        Fault("wall too thin", 0.005, "scrap", "", "", (10,), _AIRFOIL),
        Fault("shadow on the film", 0.004, "withdrawn", "", "", (), ("platform",)),
    ),
    ("PT68-BLADE", 100): (
        Fault("root burnt in grinding", 0.003, "scrap", "", "", (), ("root",)),
    ),
    ("PT68-BLADE", 110): (
        Fault("root moved under proof load", 0.003, "scrap", "", "", (70, 40), ("root",)),
    ),
    ("PT68-BLADE", 120): (
        Fault("root form", 0.015, "rework", "RW-GRIND", "", (100,), ("root",)),
        Fault("throat out of limits", 0.007, "concession", "", "throat_width", (10, 40)),
        Fault("airfoil bent", 0.004, "repair", "RW-GRIND", "", (50, 70), _AIRFOIL),
    ),
    ("HF22-CASE", 70): (
        Fault("porosity in a vane weld", 0.16, "rework", "RW-WELD", "", (60,), ("vane ring",)),
        Fault("lack of fusion", 0.07, "rework", "RW-WELD", "", (60,), ("vane ring",)),
        Fault("undercut of a weld", 0.04, "repair", "RW-WELD", "", (60,), ("vane ring",)),
    ),
    ("HF22-CASE", 90): (
        Fault("wall too thick", 0.05, "rework", "RW-TURN", "wall_min", (80,), ("barrel",)),
        Fault("inclusion in the forging", 0.006, "scrap", "", "", (10,), ("front flange",)),
    ),
}

BAD_LOAD_CHANCE: Final = 0.012
"""A load goes quietly wrong; an inspection that looks for what it causes finds it."""
BAD_LOAD_RISK: Final = 20.0
WORST_LOAD_RISK: Final = 95.0
"""Of the one load of blades that is lost in the inflation furnace after the week in trouble."""
SURVEY_RISK: Final = 6.0
"""Of what was in the furnace whose survey failed."""
SUSPECT_LOT_RISK: Final = 2.0


@dataclass(frozen=True, slots=True)
class Start:
    """How a product is started: how many a week, how many at once, how many to a lot."""

    serial: str
    digits: int
    lot: str
    per_week: float
    at_once: int
    most_in_work: int
    """No new start while so many are in work: people see the pile and wait."""
    per_unit: int
    """How many one sent unit takes."""
    kept: int
    """Released parts kept back when units are sent."""
    rack: str


STARTS: Final = {
    "HF22-BLADE": Start("B22-", 5, "SK-", 70.0, 6, 170, 22, 88, "FG-F"),
    "HF22-CASE": Start("C22-", 4, "FG-", 3.1, 1, 24, 1, 0, "FG-C"),
    "PT68-BLADE": Start("T68-", 5, "WX-", 223.0, 12, 560, 68, 136, "FG-T"),
}

OUTAGES: Final = (("inflation-furnace", 46, 38), ("root-grinder", 31, 46))
"""Station group shut after a failed survey: hours after the week's start, hours out."""
TROUBLE_WEEK: Final = 24
"""Counted from 0: at first load 26 weeks are over, and this is the week before the last."""
TROUBLE_EVERY: Final = 10
"""Weeks from one week in trouble to the next, from then on."""

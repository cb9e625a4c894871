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
    """rework: booked at once. The others: after a stop and its sentence."""
    back_to: int | None = None
    """Step at which a rework or repair begins again; None: the same step."""
    reads: str | None = None
    """Characteristic that reads outside its limits when this is found."""


@dataclass(frozen=True, slots=True)
class Start:
    """How a product is started: how many a week, how many at once, how many to a lot."""

    serial: str
    digits: int
    lot: str
    per_week: float
    at_once: int
    per_lot: int
    most_in_work: int
    """No new start while so many are in work: people see the pile and wait."""
    per_unit: int
    """How many one sent unit takes."""
    kept: int
    """Released parts kept back when units are sent."""


STARTS: Final = {
    "HF22-BLADE": Start("B22-", 5, "SK-", 71.0, 6, 12, 128, 22, 88),
    "PT68-BLADE": Start("T68-", 5, "WX-", 228.0, 12, 24, 470, 68, 136),
    "HF22-CASE": Start("C22-", 4, "FG-", 3.1, 1, 1, 10, 1, 0),
}

FAULTS: Final[dict[tuple[str, int], tuple[Fault, ...]]] = {
    ("HF22-BLADE", 10): (
        Fault("sheet out of thickness", 0.004, "scrap", None, "sheet_thickness"),
    ),
    ("HF22-BLADE", 40): (
        Fault("unbonded area", 0.012, "scrap", None, "unbonded_area"),
        Fault("unbonded area at the edge", 0.008, "concession", None, "unbonded_area"),
    ),
    ("HF22-BLADE", 60): (Fault("twist short", 0.015, "rework", 60),),
    ("HF22-BLADE", 80): (Fault("skin torn in inflation", 0.006, "scrap"),),
    ("HF22-BLADE", 90): (
        Fault("core buckled", 0.014, "scrap"),
        Fault("twist out of line", 0.02, "rework", 60),
        Fault("shadow on the film", 0.01, "pass"),
    ),
    ("HF22-BLADE", 110): (Fault("root undersize", 0.005, "scrap"),),
    ("HF22-BLADE", 120): (
        Fault("skin too thick", 0.035, "rework", 100, "skin_thickness_min"),
        Fault("stagger out of limits", 0.008, "concession", None, "tip_stagger"),
        Fault("root width out of limits", 0.006, "scrap", None, "root_width"),
        Fault("handling dent", 0.01, "repair", 100),
    ),
    ("HF22-BLADE", 130): (Fault("moment out of limits", 0.02, "rework", 110, "moment"),),
    ("HF22-BLADE", 140): (Fault("frequency out of limits", 0.007, "scrap", None, "flap_1"),),
    ("PT68-BLADE", 20): (Fault("core cracked in the wax", 0.025, "scrap"),),
    ("PT68-BLADE", 30): (Fault("shell cracked", 0.006, "scrap"),),
    ("PT68-BLADE", 50): (Fault("misrun", 0.008, "scrap"),),
    ("PT68-BLADE", 70): (
        Fault("stray grain", 0.025, "scrap", None, "misorientation"),
        Fault("grain boundary near the limit", 0.008, "concession", None, "misorientation"),
    ),
    ("PT68-BLADE", 80): (
        Fault("core left inside", 0.03, "rework", 60),
        Fault("inclusion", 0.012, "scrap"),
        Fault("wall too thin", 0.006, "scrap"),
    ),
    ("PT68-BLADE", 110): (Fault("root burnt in grinding", 0.004, "scrap"),),
    ("PT68-BLADE", 130): (
        Fault("flow low", 0.03, "rework", 120, "air_flow"),
        Fault("flow high", 0.008, "scrap", None, "air_flow"),
    ),
    ("PT68-BLADE", 150): (
        Fault("coating too thick", 0.015, "rework", 140, "throat_width"),
        Fault("root form", 0.01, "rework", 110),
        Fault("throat out of limits", 0.008, "concession", None, "throat_width"),
        Fault("coating spalled", 0.007, "scrap"),
    ),
    ("HF22-CASE", 40): (Fault("inclusion in the forging", 0.008, "scrap"),),
    ("HF22-CASE", 80): (
        Fault("porosity in a vane weld", 0.16, "rework", 70),
        Fault("lack of fusion in a vane weld", 0.07, "rework", 70),
        Fault("undercut of a vane weld", 0.04, "repair", 70),
    ),
    ("HF22-CASE", 120): (Fault("bore out of round", 0.05, "rework", 110, "roundness"),),
}

BAD_LOAD_CHANCE: Final = 0.03
"""A furnace load goes quietly wrong; the next inspection finds it."""
BAD_LOAD_RISK: Final = 9.0
SUSPECT_LOT_RISK: Final = 2.0

TROUBLE_EVERY_WEEKS: Final = 5
TROUBLE_FIRST_WEEK: Final = 4
"""Counted from 0: of six to seven weeks of history the fifth is the one in trouble."""
OUTAGES: Final = (("inflation-furnace", 46, 36), ("root-grinder", 33, 30))
"""Station group shut after a failed survey, hours after the week's start, hours out."""

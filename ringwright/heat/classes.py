"""Furnace classes of AMS 2750, and whether a survey of a furnace meets one.

A temperature uniformity survey tells how far the work zone strays from the set point. The
tolerances are two tables, one for those who work in degC and one in degF, neither a conversion
of the other (15 degF is 8.3 degC, the table says 8): a survey is judged in the unit it was
taken in.

The standard itself (SAE AMS 2750, revision E 2012, F 2020) was not seen; each class says where
its figures come from. A plant takes them from the standard it has bought, and an authorised
person signs the survey.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from ringwright.core.errors import Refused
from ringwright.heat.units import CELSIUS, KELVIN, scale_of

_QUOTED: Final = "a trade article that quotes table 11 of revision F has the same"
_EDGE: Final = 1e-9
"""A difference of two readings may miss a decimal by rounding; the edge is inside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FurnaceClass:
    """One class and how far its work zone may stray, either side of the set point."""

    number: int
    uniformity_c: float
    uniformity_f: float
    provenance: str


CLASSES: Final = (
    FurnaceClass(
        number=1,
        uniformity_c=3.0,
        uniformity_f=5.0,
        provenance=f"from memory; {_QUOTED}",
    ),
    FurnaceClass(
        number=2,
        uniformity_c=6.0,
        uniformity_f=10.0,
        provenance=(
            "10 degF read in a forum's answer on revision F, 6 degC from memory;"
            f" {_QUOTED}, and says that some design authorities ask for 5 degC"
        ),
    ),
    FurnaceClass(
        number=3,
        uniformity_c=8.0,
        uniformity_f=15.0,
        provenance=(
            "15 degF agrees with an article (a stray of 13 degF is class 3), 8 degC from"
            f" memory; {_QUOTED}, and says that some design authorities ask for 7 degC"
        ),
    ),
    FurnaceClass(
        number=4,
        uniformity_c=10.0,
        uniformity_f=20.0,
        provenance=f"from memory; {_QUOTED}",
    ),
    FurnaceClass(
        number=5,
        uniformity_c=14.0,
        uniformity_f=25.0,
        provenance=f"from memory; {_QUOTED}",
    ),
    FurnaceClass(
        number=6,
        uniformity_c=28.0,
        uniformity_f=50.0,
        provenance=f"from memory; {_QUOTED}",
    ),
)
"""From the closest to the loosest."""


def furnace_class(number: int) -> FurnaceClass:
    """The class of that number. Refused: none of 1 to 6."""
    for one in CLASSES:
        if one.number == number:
            return one
    raise Refused(f"there is no furnace class {number}; classes are 1 to {CLASSES[-1].number}")


def meets_class(number: int, largest_deviation: float, unit: str = CELSIUS) -> bool:
    """Whether a survey whose readings strayed so far from the set point meets the class.

    `largest_deviation` is the largest difference to the set point, of either sign, in `unit`:
    degC or K (one difference in both), or degF, where the class's degF figure decides. The edge
    is inside. Refused: no such class, another unit, a deviation that is no number.
    """
    return abs(_number(largest_deviation)) <= _tolerance(furnace_class(number), unit) + _EDGE


def closest_class(largest_deviation: float, unit: str = CELSIUS) -> FurnaceClass | None:
    """The closest class that a survey with that largest deviation meets; None beyond class 6.

    Arguments and refusals as of `meets_class`.
    """
    return next(
        (one for one in CLASSES if meets_class(one.number, largest_deviation, unit)), None
    )


def _tolerance(furnace: FurnaceClass, unit: str) -> float:
    of_celsius = scale_of(unit) in (CELSIUS, KELVIN)
    return furnace.uniformity_c if of_celsius else furnace.uniformity_f


def _number(deviation: float) -> float:
    if not math.isfinite(deviation):
        raise Refused("a survey without its largest deviation meets no class; give it")
    return deviation

"""Swarf as it is weighed, wet, and what of it is metal."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.massing.mass import Mass, total

TURNINGS: Final = "turnings"
OFFCUTS: Final = "offcuts"
COUPONS: Final = "coupons"
KINDS: Final = (TURNINGS, OFFCUTS, COUPONS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moisture:
    """What share of the wet mass is coolant and water, with its standard uncertainty."""

    fraction: float = 0.0
    u: float = 0.0
    sample: str = ""
    """Which finding it is: what two samples said errs apart, though they said the same."""


DRY: Final = Moisture()


@dataclass(frozen=True, slots=True, kw_only=True)
class Swarf:
    """One lot of swarf as it was weighed."""

    kind: str
    wet: Mass
    moisture: Moisture = DRY
    clean: bool = True
    """False: mixed with another alloy, so no melter takes it back as material."""


def dry(swarf: Iterable[Swarf]) -> Mass:
    """What of the swarf is metal: wet mass times what is not moisture.

    Each weighing is its own. A moisture that was found once and used for many weighings errs
    the same way in all of them, so its uncertainty is added up over them before it is squared
    (GUM 5.2.2, correlation one).
    """
    given = list(swarf)
    scales = total(
        Mass(
            kg=one.wet.kg * (1.0 - one.moisture.fraction),
            u_kg=one.wet.u_kg * (1.0 - one.moisture.fraction),
        )
        for one in given
    )
    shared = [total_wet * u for u, total_wet in _by_moisture(given).items()]
    return Mass(kg=scales.kg, u_kg=math.hypot(scales.u_kg, *shared))


def _by_moisture(swarf: Sequence[Swarf]) -> dict[float, float]:
    """Uncertainty of each moisture to the wet mass it was used for."""
    wet: dict[Moisture, float] = {}
    for one in swarf:
        wet[one.moisture] = wet.get(one.moisture, 0.0) + one.wet.kg
    found: dict[float, float] = {}
    for moisture, kg in wet.items():
        # Two moistures of equal uncertainty are two findings: their shares add as squares.
        found[moisture.u] = math.hypot(found.get(moisture.u, 0.0), kg)
    return found

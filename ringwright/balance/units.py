"""Units that moments, frequencies and masses come in, and slips between them."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from typing import Final

POUND_G, OUNCE_G, INCH_MM = 453.59237, 28.349523125, 25.4
"""International yard and pound agreement of 1959: exact."""
MOMENT_UNITS: Final = {
    "g_mm": 1.0,
    "g_cm": 10.0,
    "kg_mm": 1e3,
    "kg_m": 1e6,
    "oz_in": OUNCE_G * INCH_MM,
    "lb_in": POUND_G * INCH_MM,
}
"""Unit of moments to g·mm."""
FREQUENCY_UNITS: Final = {"hz": 1.0, "khz": 1e3, "rad_s": 1 / math.tau, "per_min": 1 / 60}
AXIAL_UNITS: Final = {"g_mm2": 1.0, "g_cm2": 100.0, "kg_mm2": 1e3, "kg_m2": 1e9}
MASS_UNITS: Final = {"g": 1.0, "kg": 1e3, "oz": OUNCE_G, "lb": POUND_G}
UNITS: Final = {
    "g_mm": "g·mm", "g_cm": "g·cm", "kg_mm": "kg·mm", "kg_m": "kg·m", "oz_in": "oz·in",
    "lb_in": "lb·in", "hz": "Hz", "khz": "kHz", "rad_s": "rad/s", "per_min": "1/min",
    "g_mm2": "g·mm²", "g_cm2": "g·cm²", "kg_mm2": "kg·mm²", "kg_m2": "kg·m²",
    "g": "g", "kg": "kg", "oz": "oz", "lb": "lb",
}  # fmt: skip
"""How the units are written."""

WIDE: Final = 1.8
"""Blades of one product differ by per cents: a median or a blade off by this is a slip."""

KNOWN: Final[dict[str, dict[str, float]]] = {
    "moment": MOMENT_UNITS,
    "frequency": FREQUENCY_UNITS,
    "axial": AXIAL_UNITS,
    "mass": MASS_UNITS,
}
"""Kind of figure to its units, each with what turns it into the record's unit."""


def slip_of(
    values: Sequence[float], expected: float | None, kind: str, used: str
) -> str | None:
    """What looks like a slip of units in figures already taken as `used`; None where nothing.

    The median is held against what is expected of the product, both in the record's unit; the
    units that would put it right are named. Nothing is corrected by itself.
    """
    if not values or not expected:
        return None
    ratio = statistics.median(values) / expected
    if 1 / WIDE < ratio < WIDE:
        return None
    likely = [
        UNITS[name]
        for name, factor in KNOWN[kind].items()
        if abs(ratio * factor / KNOWN[kind][used] - 1) < 0.2 and name != used
    ]
    hint = f"; were they {' or '.join(likely)}?" if likely else ""
    return f"the median {kind} is {ratio:.3g} times that of the product{hint}"

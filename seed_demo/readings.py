"""What the gauges of the invented factory say."""

from __future__ import annotations

from math import ceil
from random import Random
from typing import Final

from ringwright.routecards.card import Characteristic

_SPREADS_TO_LIMIT: Final = 3.6
"""Limits stand this many standard deviations from nominal: a capable process."""
_GAUGES: Final = {
    "micrometer": "MIC",
    "ultrasonic": "USG",
    "cmm": "CMG",
    "scale": "SCL",
    "crane-scale": "CSC",
    "moment-scale": "MSC",
    "ring-test": "RTG",
    "laue": "LAU",
    "bore-gauge": "BGE",
}
_APART: Final = {("ultrasonic", "CMM"): "USC", ("crane-scale", "VTL"): "CSV"}
"""Kind and stations whose gauge is another than those elsewhere."""


def gauge_at(kind: str | None, station: str) -> str:
    """The gauge of that kind at a station: each station has its own."""
    group, _, number = station.rpartition("-")
    wanted = kind or "micrometer"
    return f"{_APART.get((wanted, group), _GAUGES[wanted])}-{number}"


def draw_reading(
    random: Random, size: float, read: Characteristic, band: float, outside: bool
) -> float:
    """A reading in the characteristic's decimals; outside its limits only when asked for.

    A good one keeps out of the guard band inside each limit, in whole last digits.
    """
    low, high = _limits(read)
    value = _missed(random, read, low, high) if outside else _good(random, size, read)
    if not outside:
        digit = 10.0**-read.decimals
        band = ceil(band / digit) * digit
        value = min(max(value, low + band), high - band)
    return round(value, read.decimals) + 0.0


def _limits(read: Characteristic) -> tuple[float, float]:
    nominal = read.nominal or 0.0
    low = read.lower if read.lower is not None else nominal
    high = read.upper if read.upper is not None else nominal
    return low, high


def _good(random: Random, size: float, read: Characteristic) -> float:
    low, high = _limits(read)
    if read.nominal is None:
        return low + abs(random.gauss(0.0, 1.0)) * (high - low) / (_SPREADS_TO_LIMIT + 1)
    spread = (high - low) / 2 / _SPREADS_TO_LIMIT
    off = random.gauss(0.0, 1.0)
    if read.role in ("mass", "moment"):
        # A heavy part has a large moment too: both follow the part's own size.
        off = 0.9 * size + 0.43 * off
    return read.nominal + off * spread


def _missed(random: Random, read: Characteristic, low: float, high: float) -> float:
    beyond = (0.03 + 0.2 * random.random()) * (high - low) + 10.0**-read.decimals
    if read.nominal is None or random.random() < 0.5:
        return high + beyond
    return low - beyond

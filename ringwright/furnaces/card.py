"""A furnace as data: what it is, what it is read with, what must be proved of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from ringwright.core.glossary import N_

SURVEY, ACCURACY, LEAK, GAS = "survey", "accuracy", "leak", "gas"
PROOFS: Final[dict[str, str]] = {
    SURVEY: N_("temperature uniformity survey"),
    ACCURACY: N_("system accuracy test"),
    LEAK: N_("leak rate"),
    GAS: N_("gas purity"),
}
"""What is proved of a furnace again and again (AMS 2750 has the first two)."""
UNITS: Final[dict[str, str]] = {SURVEY: "degC", ACCURACY: "degC", LEAK: "Pa/min", GAS: "%"}
"""In what each is read: the largest deviation, the error, the rise, the purity."""


@dataclass(frozen=True, kw_only=True)
class Channel:
    """One thermocouple of the load, as the trace names its column."""

    code: str
    gauge: str = ""
    """Its code on the register of gauges; empty where none is kept."""
    most_uses: int | None = None
    """Runs that one thermocouple may be used in."""


@dataclass(frozen=True, kw_only=True)
class Proof:
    """How often something is proved, and within which limit."""

    days: int
    limit: float | None = None
    """Largest deviation, error or rise; smallest purity. None: whoever proves it decides."""


@dataclass(frozen=True, kw_only=True)
class Furnace:
    """A station that heats loads; it bears the station's code."""

    code: str
    furnace_class: int | None = None
    """AMS 2750 class that its surveys must meet."""
    positions: tuple[str, ...] = ()
    channels: tuple[Channel, ...] = ()
    pressure_gauge: str = ""
    gas_gauge: str = ""
    proofs: dict[str, Proof] = field(default_factory=dict)
    withdrawn: bool = False

    @property
    def gauges(self) -> tuple[str, ...]:
        """Codes of the gauges that a run is judged by."""
        named = (*(one.gauge for one in self.channels), self.pressure_gauge, self.gas_gauge)
        return tuple(dict.fromkeys(code for code in named if code))


@dataclass(frozen=True, kw_only=True)
class Proved:
    """What proving something of a furnace found."""

    furnace: str
    what: str
    on: str
    due: str
    good: bool
    value: float | None = None
    certificate: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Columns:
    """How a recorder's file is read: which column is what, and in which unit."""

    time: str
    channels: dict[str, str]
    """Our channel (tc1_c, pressure_kpa) to the file's column."""
    temperature_unit: str = "degC"
    pressure_unit: str = "kPa"
    zone: str = ""
    """Zone of times without an offset; empty: the site's."""

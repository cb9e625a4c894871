"""What an alloy and a lot of material are, as data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

ROTATING: Final = "rotating parts"
STATIC: Final = "static parts"
GROUND: Final = "not for flight"
USES: Final = (ROTATING, STATIC, GROUND)
"""What a lot may be used for, the strictest first; each allows those behind it too."""
TURNS: Final = ("fan-blade", "turbine-blade")
"""Families of products that turn."""


@dataclass(frozen=True, kw_only=True)
class Alloy:
    """An alloy of the shop; no other may be mixed into its swarf."""

    code: str
    name: str = ""
    density_g_cm3: float
    products: tuple[str, ...] = ()
    """Products that are made of it."""
    withdrawn: bool = False


@dataclass(frozen=True, kw_only=True)
class Lot:
    """A lot of material as it was bought or melted again."""

    code: str
    alloy: str
    heat: str = ""
    """The melter's heat number."""
    certificate: str = ""
    use: str = GROUND
    """The most it may be used for, one of `USES`."""
    containers: tuple[str, ...] = ()
    """Swarf containers it was melted from; empty: not melted from our swarf."""
    note: str = ""

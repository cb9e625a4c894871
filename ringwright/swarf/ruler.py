"""The account as one ruler: mass in above, mass found below, at one scale. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.kit.charts import Scale
from ringwright.massing.account import Closing

PARTS = ("part", "scrapped", "turnings", "offcuts", "coupons")
NARROW = 6.0
"""Below so many per cent of the width a piece has no room for its word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece of what was found."""

    name: str
    kg: float
    x: float
    width: float

    @property
    def named(self) -> bool:
        """True where its word fits."""
        return self.width >= NARROW

    @property
    def middle(self) -> float:
        """Where its word stands."""
        return round(self.x + self.width / 2, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """The end of the ruler enlarged, in per cent of the width."""

    mass_in: float
    found: float
    low: float
    high: float
    gap: tuple[float, float] | None
    """Where what nothing explains begins, and how wide it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """Coordinates in per cent of the width."""

    mass_in: float
    """Where the mass in ends."""
    pieces: tuple[Piece, ...]
    low: float
    high: float
    """The hatching: where the end of what was found may lie, k = 2."""
    lens: Lens


def draw(closing: Closing) -> Ruler | None:
    """The ruler of an account; None where nothing went in."""
    most = max(closing.bought.kg, closing.found.kg + closing.unaccounted.expanded_kg)
    if most <= 0.0:
        return None
    scale = Scale(0.0, most, 0.0, 98.0)
    kinds = {"part": closing.part, "scrapped": closing.scrapped, **closing.by_kind}
    pieces, at_kg = [], 0.0
    for name in PARTS:
        mass = kinds[name]
        if mass.kg > 0.0:
            x = scale(at_kg)
            at_kg += mass.kg
            width = round(scale(at_kg) - x, 2)
            pieces.append(Piece(name=name, kg=mass.kg, x=x, width=width))
    wide = closing.unaccounted.expanded_kg
    return Ruler(
        mass_in=scale(closing.bought.kg),
        pieces=tuple(pieces),
        low=scale(max(0.0, closing.found.kg - wide)),
        high=scale(closing.found.kg + wide),
        lens=_lens(closing),
    )


def _lens(closing: Closing) -> Lens:
    """Twice as far either side as the account needs to show what it closes on."""
    bought, found, wide = closing.bought.kg, closing.found.kg, closing.unaccounted.expanded_kg
    ends = (bought, found - wide, found + wide)
    pad = 0.35 * (max(ends) - min(ends)) or 1.0
    scale = Scale(min(ends) - pad, max(ends) + pad, 0.0, 100.0)
    gap = None
    if not closing.closes:
        near = found + wide if bought > found else found - wide
        low, high = sorted((scale(near), scale(bought)))
        gap = (low, round(high - low, 2))
    return Lens(
        mass_in=scale(bought),
        found=scale(found),
        low=scale(found - wide),
        high=scale(found + wide),
        gap=gap,
    )

"""Balance weights for a fitted set: what the page asks, and what comes out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ringwright.balance.correction import Correction, correct
from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.sets.set_model import SetSheet

MOST_PLACES, MOST_MASSES = 120, 12


@dataclass(frozen=True, kw_only=True)
class Correcting:
    """The split that leaves least, or why there is none."""

    places: str
    radius_mm: str
    masses_g: str
    found: Correction | None = None
    trouble: str = ""
    """Why there is none, in words that are translated."""
    refused: str = ""
    """Why what was asked is refused."""


def correction_of(sheet: SetSheet, query: Mapping[str, str]) -> Correcting:
    """The weights for what the set leaves; what is asked goes before the rotor's data."""
    rotor = sheet.rotor
    masses = ", ".join(f"{mass:g}" for mass in rotor.masses_g)
    places = query.get("places") or (str(rotor.positions) if rotor.positions else "")
    radius = query.get("radius_mm") or _plain(rotor.position_radius_mm)
    asked = Correcting(
        places=places, radius_mm=radius, masses_g=query.get("masses_g") or masses
    )
    trouble = _trouble(sheet, asked)
    if trouble:
        return replace(asked, trouble=trouble)
    try:
        return replace(asked, found=_found(sheet, asked))
    except Refused as why:
        return replace(asked, refused=why.message)


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _trouble(sheet: SetSheet, asked: Correcting) -> str:
    if sheet.found.state not in ("fitted", "sent"):
        return N_("Weights are computed for a set whose every slot is fitted.")
    if sheet.expected is None:
        return N_("A blade of this set was never read: nothing can be computed.")
    if not (asked.places and asked.radius_mm and asked.masses_g):
        return N_("Say how many places there are, their radius, and which masses.")
    return ""


def _found(sheet: SetSheet, asked: Correcting) -> Correction:
    places = _figures("places", asked.places, 1)
    count, (radius_mm,) = places[0], _figures("radius", asked.radius_mm, 1)
    if not (count == int(count) and 1 <= count <= MOST_PLACES):
        raise Refused(f"places is a whole number of 1 to {MOST_PLACES}")
    masses = _figures("masses", asked.masses_g, MOST_MASSES)
    expected, doubt = sheet.expected, sheet.doubt
    assert expected is not None
    enough = 0.0 if doubt is None else doubt.stop_at_g_mm
    around = [(360.0 * place / count, radius_mm) for place in range(int(count))]
    return correct(expected.residual, around, masses, enough_g_mm=enough)


def _figures(name: str, text: str, most: int) -> list[float]:
    pieces = [piece.strip() for piece in text.replace(";", ",").split(",") if piece.strip()]
    try:
        found = [float(piece) for piece in pieces]
    except ValueError:
        raise Refused(f"{name} {text[:60]!r} holds what is no number") from None
    if not found or len(found) > most or any(not math.isfinite(f) or f <= 0 for f in found):
        raise Refused(f"{name} takes 1 to {most} numbers above 0")
    return found


def weights_sent(texts: Sequence[str]) -> tuple[tuple[float, float], ...]:
    """(angle, moment) of each weight as a form sends it; raises Refused."""
    found = []
    for text in texts:
        angle, _, moment = text.partition("=")
        try:
            found.append((float(angle), float(moment)))
        except ValueError:
            raise Refused("the form names a weight that is none; open the page again") from None
    return tuple(found)

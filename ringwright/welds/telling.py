"""What is wrong with a vane, a film, a weld at its limit, in the shop's words; pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from ringwright.welds.card import WeldPlan, wire_mm
from ringwright.welds.state import AT_LIMIT, TO_EXCAVATE, TO_READ, Film, Ring, Vane, Weld

NAMED: Final = 8
"""Welds that a refusal names; the rest are counted."""


def astray(plan: WeldPlan, vane: Vane) -> str | None:
    """How a vane lies outside its tolerance, in words; None inside."""
    told = []
    if abs(vane.radial_mm) > plan.radial_mm:
        way = "outward" if vane.radial_mm > 0 else "inward"
        told.append(f"{abs(vane.radial_mm):g} mm {way} (at most {plan.radial_mm:g})")
    if abs(vane.axial_mm) > plan.axial_mm:
        way = "forward" if vane.axial_mm > 0 else "rearward"
        told.append(f"{abs(vane.axial_mm):g} mm {way} (at most {plan.axial_mm:g})")
    return " and ".join(told) or None


def why_retake(plan: WeldPlan, film: Film) -> str | None:
    """Why a film gets no verdict, in words; None for one that shows enough."""
    if film.good:
        return None
    asked = plan.acceptance.wire
    seen = f"W{film.wire} was the finest wire seen" if film.wire else "no wire was seen"
    return (
        f"{seen}; W{asked} ({wire_mm(asked):.2f} mm) is asked. "
        f"Take film {film.code} again under a new code"
    )


def waiting_on(ring: Ring, film: Film) -> list[str]:
    """Welds whose verdict is to be read from this film."""
    return [
        code
        for code in film.welds
        if ring.welds[code].state == TO_READ and ring.welds[code].film == film.code
    ]


def limit_told(ring: Ring, weld: Weld) -> str:
    """Why a weld is repaired no more, and who decides."""
    limit = ring.ruled.repair_limit
    times = "once" if weld.repairs == 1 else f"{weld.repairs} times"
    return (
        f"weld {weld.code} was repaired {times}, the most that {ring.ruled.procedure} allows "
        f"({limit}); keep {ring.serial} on hold for the design authority"
    )


def open_told(ring: Ring, codes: Sequence[str]) -> str:
    """Welds that keep a part, with where each stands, as a refusal says it."""
    told = [f"weld {code} is {ring.welds[code].state}" for code in codes]
    more = len(told) - NAMED
    return ", ".join(told[:NAMED]) + (f" and {more} more" if more > 0 else "")


def not_covered(ring: Ring, conceded_us: int | None) -> list[str]:
    """Welds that keep the part: open, and not of those that the design authority let go.

    A concession speaks of what was read by then, and of a weld that nobody ground out since.
    """
    return [code for code in ring.open if not _let_go(ring.welds[code], conceded_us)]


def _let_go(weld: Weld, conceded_us: int | None) -> bool:
    if conceded_us is None or weld.state not in (AT_LIMIT, TO_EXCAVATE) or not weld.readings:
        return False
    last = weld.readings[-1]
    same = last.passed == len(weld.passes) - 1
    return same and not last.accepted and last.known_us <= conceded_us

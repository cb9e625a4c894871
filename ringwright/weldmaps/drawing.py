"""The ring of vanes drawn from the front: every weld at its angle, its repairs as rings."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from ringwright.welds.card import CLOCKWISE, OUTER
from ringwright.welds.state import ACCEPTED, Ring
from ringwright.welds.telling import astray

OUTER_R, INNER_R, NUMBER_R, ARROW_R = 228.0, 132.0, 262.0, 283.0
MARK_R, RING_STEP = 11.0, 5.0
"""How far a mark reaches, and how far each ring round it lies from the one before."""
SHAPES: Final[dict[str, str]] = {
    "not welded": "open",
    "welded": "half",
    "rewelded": "half",
    "to relieve": "triangle",
    "to radiograph": "diamond",
    "to read": "film",
    "accepted": "disc",
    "to excavate": "cross",
    "excavated": "notch",
    "proved clear": "bar",
    "at the limit": "tie",
}
"""State to the shape of its mark."""
NEEDS: Final = frozenset({"to read", "to excavate", "at the limit"})
"""States that wait for a person to decide or to mend."""


@dataclass(frozen=True, slots=True)
class VaneMark:
    """One vane: a stroke from the inner ring to the case, its number outside."""

    number: int
    line: tuple[float, float, float, float]
    label: tuple[float, float]
    fitted: bool
    astray: bool


@dataclass(frozen=True, slots=True)
class WeldMark:
    """One weld: where, which shape, how many rings."""

    code: str
    state: str
    shape: str
    at: tuple[float, float]
    rings: tuple[float, ...]
    """Radii of the rings round it: one a repair."""
    needs: bool


@dataclass(frozen=True, slots=True)
class RingDrawing:
    """The picture, in a square of 600 by 600 round the middle."""

    vanes: tuple[VaneMark, ...]
    welds: tuple[WeldMark, ...]
    arrow: str
    """The way that vanes are numbered, as an arc near vane 1."""
    head: str
    outer_r: float = OUTER_R
    inner_r: float = INNER_R


def draw_ring(ring: Ring) -> RingDrawing:
    """The ring as it stands."""
    plan = ring.ruled
    vanes = []
    for number in range(1, plan.vanes + 1):
        angle = plan.angle_of(number)
        vane = ring.vanes.get(number)
        inner, outer = at(angle, INNER_R), at(angle, OUTER_R)
        vanes.append(
            VaneMark(
                number,
                (*inner, *outer),
                at(angle, NUMBER_R),
                vane is not None,
                vane is not None and astray(plan, vane) is not None,
            )
        )
    welds = []
    for code, weld in ring.welds.items():
        radius = OUTER_R if plan.joint_of(code).place == OUTER else INNER_R
        rings = tuple(MARK_R + RING_STEP * (n + 1) for n in range(weld.repairs))
        where = at(plan.angle_of_weld(code), radius)
        shape = SHAPES[weld.state]
        welds.append(WeldMark(code, weld.state, shape, where, rings, weld.state in NEEDS))
    arrow, head = _arrow(plan.first_angle_deg, plan.direction == CLOCKWISE)
    return RingDrawing(tuple(vanes), tuple(welds), arrow, head)


def at(angle_deg: float, radius: float) -> tuple[float, float]:
    """Where a point lies, angles clockwise from the top as seen, y downward."""
    angle = math.radians(angle_deg)
    return round(radius * math.sin(angle), 2), round(-radius * math.cos(angle), 2)


def _arrow(first_deg: float, clockwise: bool) -> tuple[str, str]:
    """An arc of twenty degrees past vane 1 in the way of counting, and its head."""
    sign = 1 if clockwise else -1
    begin, end = at(first_deg + sign * 4, ARROW_R), at(first_deg + sign * 22, ARROW_R)
    sweep = 1 if clockwise else 0
    arc = f"M{begin[0]} {begin[1]}A{ARROW_R} {ARROW_R} 0 0 {sweep} {end[0]} {end[1]}"
    tip = at(first_deg + sign * 26, ARROW_R)
    wings = [at(first_deg + sign * 21, ARROW_R + by) for by in (-7, 7)]
    (a, b), (c, d) = wings
    return arc, f"M{tip[0]} {tip[1]}L{a} {b}L{c} {d}Z"


def counted(ring: Ring) -> list[tuple[str, str, int]]:
    """State, shape and number of the welds in it, in the order of the way; none empty."""
    found = [(state, shape, len(ring.in_state(state))) for state, shape in SHAPES.items()]
    return [one for one in found if one[2] or one[0] == ACCEPTED]

"""The ring as it is drawn: blades round the disc, the residual in its hub. Pure geometry.

The picture is seen along the axis. Slot 1 stands at the top, slots rise clockwise unless the
rotor says otherwise, and vectors turn with them. Coordinates are of a square of `SIDE`, its
middle at (0, 0), y downwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

SIDE: Final = 500
HUB, TIP, MIDDLE = 104.0, 196.0, 150.0
"""Radii where blades begin and end, and of the mean moment on each blade."""
NUMBERS, ARROW = 217.0, 236.0
ROOM: Final = 92.0
"""Radius of the largest circle in the hub."""
LONGEST_BAR: Final = 34.0
SHAPED, OUTLINED = 60, 160
"""Up to so many slots blades have a shape; up to so many, an outline."""
_EVERY: Final = ((36, 1), (60, 2), (120, 5), (240, 10), (400, 20))
"""Up to so many slots, every so many-th has its number."""
_SHAPE: Final = ((HUB, 0.42), (MIDDLE, 0.50), (TIP - 8, 0.40), (TIP, 0.26))
"""(radius, half width as a share of the widest) of one side of a shaped blade."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """One slot: the blade that stands or shall stand in it; no serial: it is empty."""

    slot: int
    serial: str = ""
    moment_g_mm: float | None = None
    frequency_hz: float | None = None
    locked: bool = False
    mark: str = ""
    """What the picture says of it: "worst", "changed", "lacking", "empty", "other" (a blade
    that was planned for another slot)."""
    note: str = ""
    """The mark in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hub:
    """What stands in the hub, all in g·mm; None: not known, not drawn."""

    residual: complex | None = None
    u95_g_mm: float | None = None
    share_g_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BladeDrawing:
    """One blade: its outline, its bar from the mean (outward heavier), its number."""

    slot: int
    outline: str
    bar: str
    tick: str
    mark: str
    number: tuple[float, float] | None
    locked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HubDrawing:
    """Circles and vector of the hub at one scale."""

    radius: float
    share_r: float | None
    u95_r: float | None
    tip: tuple[float, float] | None
    """Where the residual ends."""
    outside: bool
    """True where the residual leaves its circle of uncertainty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RingDrawing:
    """The whole picture."""

    blades: tuple[BladeDrawing, ...]
    hub: HubDrawing
    arrow: str
    head: str
    thin: bool
    """True where blades are too many to have a shape."""


def draw_ring(seats: Sequence[Seat], hub: Hub, *, clockwise: bool = True) -> RingDrawing:
    """The ring of these slots, in slot order."""
    turn = 1 if clockwise else -1
    slots = len(seats)
    away = _less_mean(seats)
    most = max((abs(value) for value in away if value is not None), default=0.0) or 1.0
    width = min(34.0, 0.74 * 2 * math.pi * HUB / max(slots, 1))
    blades = tuple(
        _blade(seat, slots, turn, (width, None if value is None else value / most))
        for seat, value in zip(seats, away, strict=True)
    )
    return RingDrawing(
        blades=blades,
        hub=draw_hub(hub, turn),
        arrow=_arc(ARROW, turn * 18, turn * 52, turn),
        head=_head(ARROW, turn * 56, turn),
        thin=slots > SHAPED,
    )


def draw_hub(
    hub: Hub, turn: int = 1, room: float = ROOM, *, beside_g_mm: float = 0.0
) -> HubDrawing:
    """Residual, uncertainty and share at the scale of the largest, which fills the room.

    `beside_g_mm` is the largest of the hubs beside it, which are drawn at the same scale.
    """
    residual = None if hub.residual is None else abs(hub.residual)
    known = [v for v in (hub.share_g_mm, hub.u95_g_mm, residual, beside_g_mm) if v]
    scale = room / max(known) if known else 0.0
    tip = None
    if hub.residual is not None:
        # Slot 1 is up, so the vector's real part is up too and its angle turns with the slots.
        tip = (_at(turn * hub.residual.imag * scale), _at(-hub.residual.real * scale))
    outside = residual is not None and hub.u95_g_mm is not None and residual > hub.u95_g_mm
    return HubDrawing(
        radius=HUB if room == ROOM else room,
        share_r=None if hub.share_g_mm is None else _at(hub.share_g_mm * scale),
        u95_r=None if hub.u95_g_mm is None else _at(hub.u95_g_mm * scale),
        tip=tip,
        outside=outside,
    )


def _less_mean(seats: Sequence[Seat]) -> list[float | None]:
    known = [seat.moment_g_mm for seat in seats if seat.moment_g_mm is not None]
    mean = math.fsum(known) / len(known) if known else 0.0
    return [None if s.moment_g_mm is None else s.moment_g_mm - mean for s in seats]


def _blade(seat: Seat, slots: int, turn: int, size: tuple[float, float | None]) -> BladeDrawing:
    width, share = size
    angle = turn * 360.0 * (seat.slot - 1) / slots
    return BladeDrawing(
        slot=seat.slot,
        outline=_outline(angle, width, slots),
        bar="" if not share else _bar(angle, width, share),
        tick=_across(MIDDLE, angle, 0.36 * width) if slots <= SHAPED else "",
        mark=seat.mark,
        number=_point(NUMBERS, angle, 0.0) if is_numbered(seat.slot, slots) else None,
        locked=seat.locked,
    )


def is_numbered(slot: int, slots: int) -> bool:
    """True where a slot's number stands: every one, or so many that none touches another."""
    every = next(step for most, step in _EVERY if slots <= most)
    near_the_first = slots + 1 - slot < 0.7 * every
    return slot == 1 or (slot % every == 0 and not near_the_first)


def _outline(angle: float, width: float, slots: int) -> str:
    """A blade with a shape; a plain one where there are many; a line where there are more."""
    if slots > OUTLINED:
        return _path([_point(HUB, angle, 0.0), _point(TIP, angle, 0.0)])
    half = 1.1 * width / 2
    sides = _SHAPE if slots <= SHAPED else ((HUB, 0.45), (TIP, 0.45))
    one = [_point(radius, angle, -2 * share * half) for radius, share in sides]
    other = [_point(radius, angle, 2 * share * half) for radius, share in reversed(sides)]
    return _path([*one, *other]) + "Z"


def _bar(angle: float, width: float, share: float) -> str:
    half = max(0.4, 0.2 * width)
    end = MIDDLE + share * LONGEST_BAR
    corners = [(MIDDLE, -half), (MIDDLE, half), (end, half), (end, -half)]
    return _path([_point(radius, angle, across) for radius, across in corners]) + "Z"


def _across(radius: float, angle: float, half: float) -> str:
    return _path([_point(radius, angle, -half), _point(radius, angle, half)])


def _point(radius: float, angle_deg: float, across: float) -> tuple[float, float]:
    """A place by its radius, its angle clockwise from the top, and how far beside that ray."""
    turned = math.radians(angle_deg)
    sine, cosine = math.sin(turned), math.cos(turned)
    return _at(radius * sine + across * cosine), _at(-radius * cosine + across * sine)


def _arc(radius: float, start_deg: float, end_deg: float, turn: int) -> str:
    (x, y), (to_x, to_y) = _point(radius, start_deg, 0.0), _point(radius, end_deg, 0.0)
    return f"M{x:g} {y:g}A{radius:g} {radius:g} 0 0 {1 if turn > 0 else 0} {to_x:g} {to_y:g}"


def _head(radius: float, angle: float, turn: int) -> str:
    back = angle - turn * 3.4
    corners = [
        _point(radius, angle, 0.0),
        _point(radius - 5.5, back, 0.0),
        _point(radius + 5.5, back, 0.0),
    ]
    return _path(corners) + "Z"


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points)


def _at(value: float) -> float:
    return round(value, 2) + 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PairEnd:
    """One blade of a pair."""

    seat: Seat
    less_mean_g_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two slots that face each other, or stand side by side on an odd ring."""

    first: PairEnd
    second: PairEnd
    difference_g_mm: float | None
    """None where one of them is empty or not read."""
    width: float
    """Of its bar, per cent of the largest difference."""


def draw_pairs(seats: Sequence[Seat]) -> tuple[Pair, ...]:
    """Opposite pairs by difference, largest first; neighbours where the ring is odd."""
    away, slots = _less_mean(seats), len(seats)
    reach = 1 if slots % 2 else slots // 2
    pairs = range(slots if slots % 2 else slots // 2)
    ends = [PairEnd(seat=s, less_mean_g_mm=v) for s, v in zip(seats, away, strict=True)]
    found = [(ends[n], ends[(n + reach) % slots]) for n in pairs]
    most = max((abs(_gap(*pair) or 0.0) for pair in found), default=0.0) or 1.0
    drawn = [
        Pair(
            first=one,
            second=other,
            difference_g_mm=_gap(one, other),
            width=_at(100 * (_gap(one, other) or 0.0) / most),
        )
        for one, other in found
    ]
    return tuple(sorted(drawn, key=_by_difference))


def _by_difference(pair: Pair) -> tuple[float, int]:
    gap = pair.difference_g_mm
    return (math.inf if gap is None else -gap, pair.first.seat.slot)


def _gap(one: PairEnd, other: PairEnd) -> float | None:
    if one.seat.moment_g_mm is None or other.seat.moment_g_mm is None:
        return None
    return abs(one.seat.moment_g_mm - other.seat.moment_g_mm)

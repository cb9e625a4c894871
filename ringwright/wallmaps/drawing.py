"""The unrolled wall as coordinates: station across in per cent, angle down in pixels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ringwright.core.conformity import GUARD, OUTSIDE, guard_band
from ringwright.kit.charts import Scale, whole_ticks
from ringwright.wallmaps.board import THIN_AHEAD, CaseLine, WallsBoard
from ringwright.walls.mapping import Judged
from ringwright.walls.plan import FULL_TURN_DEG
from ringwright.walls.reading import WallReading
from ringwright.walls.surface import surface

UNDER_PX: Final = 28
TEXT_PX: Final = 20
HALF_LETTER_PX: Final = 5
BARE_PX: Final = 10
"""Side of the square that marks a place without a reading."""
HEIGHT_PX: Final = 360
"""One pixel a degree: a mark's height is its angle."""
CELLS: Final = (60, 72)
THIRDS: Final = ("thin", "", "thick")
"""How the inside of the limits is banded: its thinner third, the middle, its thicker third."""
UNDER, NEAR, OVER = "under", "near", "over"
MOST_DOTS: Final = 1_500
LINE_PX: Final = 30
DRAWN: Final = 24
"""Cases on the rulers; the table and the file have more."""
SMALLEST_SPAN_MM: Final = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A run of cells of one band along the case."""

    x: float
    width: float
    y: float
    height: float
    band: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """A zone's edge, with what is written in its corner."""

    x: float
    width: float
    y: float
    height: float
    name: str
    limits: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """One reading."""

    x: float
    y: float
    outside: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Unrolled:
    """The picture of one set."""

    height: int
    """With what is written under it."""
    foot: int
    """Where the stations are written."""
    patches: tuple[Patch, ...]
    outlines: tuple[Outline, ...]
    dots: tuple[Dot, ...]
    bare: tuple[Dot, ...]
    """Places without a reading within the largest gap."""
    thinnest: Dot | None
    ahead: Dot | None
    """The place likeliest to be thin at finish, where that is another one."""
    stations: tuple[tuple[float, int], ...]
    """Ticks along the case: x, mm."""
    angles: tuple[tuple[int, int], ...]
    """Where each angle is written, and the angle."""


def draw_wall(line: CaseLine, readings: tuple[WallReading, ...]) -> Unrolled:
    """The picture of a case's wall."""
    plan = line.map.plan
    along = Scale(0.0, plan.length_mm, 0.0, 100.0)
    thin, first = line.map.thinnest, line.first
    ahead = first.point if line.cuts_left and first and first.point is not thin else None
    step = max(1, len(readings) // MOST_DOTS)
    return Unrolled(
        height=HEIGHT_PX + UNDER_PX,
        foot=HEIGHT_PX + TEXT_PX,
        patches=_patches(line, readings),
        outlines=tuple(
            Outline(
                x=along(one.zone.from_mm),
                width=round(along(one.zone.to_mm) - along(one.zone.from_mm), 2),
                y=low,
                height=high - low,
                name=one.zone.name,
                limits=(one.limits.lower or 0.0, one.limits.upper or 0.0),
            )
            for one in line.map.zones
            for low, high in one.zone.spans_deg
        ),
        dots=tuple(_dot(one, along) for one in line.map.points[::step]),
        bare=tuple(
            Dot(x=along(one.station_mm), y=one.angle_deg - BARE_PX / 2)
            for one in line.map.uncovered
        ),
        thinnest=_dot(thin, along) if thin else None,
        ahead=_dot(ahead, along) if ahead else None,
        stations=tuple((along(mm), mm) for mm in whole_ticks(0, plan.length_mm, 6)),
        angles=tuple((deg + HALF_LETTER_PX, deg) for deg in range(0, 361, 90)),
    )


def _dot(one: Judged, along: Scale) -> Dot:
    return Dot(
        x=along(one.reading.station_mm),
        y=round(one.reading.angle_deg, 1),
        outside=one.state == OUTSIDE,
    )


def _patches(line: CaseLine, readings: tuple[WallReading, ...]) -> tuple[Patch, ...]:
    wall, zones = surface(line.map.plan, line.map.step, readings, CELLS)
    bands = _bands(line, wall, zones)
    width, height = 100.0 / CELLS[0], FULL_TURN_DEG / CELLS[1]
    found: list[Patch] = []
    for row in range(CELLS[1]):
        start = 0
        for place in range(1, CELLS[0] + 1):
            if place < CELLS[0] and bands[place][row] == bands[start][row]:
                continue
            if bands[start][row]:
                found.append(
                    Patch(
                        x=round(start * width, 2),
                        width=round((place - start) * width, 2),
                        y=row * height,
                        height=height,
                        band=bands[start][row],
                    )
                )
            start = place
    return tuple(found)


def _bands(line: CaseLine, wall: np.ndarray, zones: np.ndarray) -> list[list[str]]:
    """The band of each cell; empty for the middle third and where nothing is known."""
    guard = float(guard_band(line.read.u_mm)) if line.read.u_mm else 0.0
    limits = [(one.limits.lower or 0.0, one.limits.upper or 0.0) for one in line.map.zones]
    return [
        [
            "" if zone < 0 or np.isnan(mm) else _band(float(mm), limits[int(zone)], guard)
            for mm, zone in zip(*pair, strict=True)
        ]
        for pair in zip(wall, zones, strict=True)
    ]


def _band(mm: float, limits: tuple[float, float], guard: float) -> str:
    low, high = limits
    if mm < low:
        return UNDER
    if mm > high:
        return OVER
    if mm < low + guard or mm > high - guard:
        return NEAR
    return THIRDS[min(2, int((mm - low) / (high - low) * 3))]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pointer:
    """One case on the ruler of margins."""

    serial: str
    y: float
    text_y: float
    x: float
    from_x: float
    to_x: float
    needs: bool
    near: bool
    margin_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rulers:
    """Every case's least margin at finish, one under another."""

    height: float
    """With what is written under them."""
    foot: float
    post_to: float
    post: float
    """Where the lower limit stands."""
    pointers: tuple[Pointer, ...]
    ticks: tuple[tuple[float, float], ...]


def draw_margins(board: WallsBoard) -> Rulers | None:
    """The rulers of the list; None where there is nothing to draw."""
    lines = [line for line in board.lines[:DRAWN] if line.first is not None]
    if not lines:
        return None
    spans = [_span(line) for line in lines]
    low = min(0.0, *(low for low, _, _ in spans))
    high = max(SMALLEST_SPAN_MM, *(high for _, _, high in spans))
    across = Scale(low, high, 2.0, 98.0)
    ticks = [tenth / 10 for tenth in whole_ticks(low * 10, high * 10, 5)]
    return Rulers(
        height=LINE_PX * len(lines) + UNDER_PX,
        foot=LINE_PX * len(lines) + TEXT_PX,
        post_to=LINE_PX * len(lines),
        post=across(0.0),
        pointers=tuple(
            Pointer(
                serial=line.serial,
                y=LINE_PX * (place + 0.5),
                text_y=LINE_PX * (place + 0.5) + HALF_LETTER_PX,
                x=across(middle),
                from_x=across(least),
                to_x=across(most),
                needs=line.state in (OUTSIDE, THIN_AHEAD),
                near=line.state == GUARD,
                margin_mm=middle,
            )
            for place, (line, (least, middle, most)) in enumerate(
                zip(lines, spans, strict=True)
            )
        ),
        ticks=tuple((across(mm), mm) for mm in ticks),
    )


def _span(line: CaseLine) -> tuple[float, float, float]:
    """Least, expected and most margin over the lower limit at finish."""
    first = line.first
    assert first is not None
    return (
        first.margin_mm - 2 * first.u_mm, first.margin_mm, first.margin_mm + 2 * first.u_mm
    )  # fmt: skip

"""How far two points of a radiograph lie apart."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ringwright.imaging.film import Spacing


@dataclass(frozen=True, slots=True)
class Point:
    """A pixel by its place: columns from the left, rows from the top, both from 0."""

    column: int
    row: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Distance:
    """Between the middles of two pixels: in pixels, and in mm where a spacing is known."""

    px: float
    mm: float | None
    doubt_mm: float | None
    """What one pixel is, along the larger of the two spacings: where an end was set cannot be
    known better."""


def distance_of(a: Point, b: Point, spacing: Spacing | None) -> Distance:
    """The distance from a to b: rows and columns each by their own spacing."""
    columns, rows = b.column - a.column, b.row - a.row
    px = math.hypot(columns, rows)
    if spacing is None:
        return Distance(px=px, mm=None, doubt_mm=None)
    return Distance(
        px=px,
        mm=math.hypot(columns * spacing.column_mm, rows * spacing.row_mm),
        doubt_mm=max(spacing.column_mm, spacing.row_mm),
    )

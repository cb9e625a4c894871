"""A radiograph as its values, how they are to be shown, and how large a pixel is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ringwright.core.errors import Refused

MOST_PIXELS: Final = 16_777_216
"""4,096 by 4,096: a large detector or a long film. More is not decoded."""
MOST_PRESETS: Final = 8
LEAST_MM, MOST_MM = 1e-4, 10.0
"""A pixel of a radiograph is neither smaller nor larger; a spacing beyond is not believed."""
IMAGER: Final = "imager"
"""Spacing in the plane of the detector: Imager Pixel Spacing (0018,1164)."""
CALIBRATED: Final = "pixel"
"""Spacing as the file calls it Pixel Spacing (0028,0030), calibrated or at the detector."""
RESOLUTION: Final = "resolution"
"""Spacing out of the resolution that a TIFF names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spacing:
    """How far pixels lie apart, as the file says, and in which of its fields it says so."""

    row_mm: float
    """From one row to the next: downwards."""
    column_mm: float
    """From one column to the next: across."""
    source: str


@dataclass(frozen=True, slots=True)
class Preset:
    """A window that the file brings along."""

    level: float
    window: float


@dataclass(frozen=True, kw_only=True)
class Film:
    """One radiograph: stored values by row and column, and what they stand for."""

    stored: NDArray[Any]
    slope: float = 1.0
    intercept: float = 0.0
    white_is_low: bool = False
    """MONOCHROME1, or WhiteIsZero: the lowest value is shown white."""
    bits: int = 16
    presets: tuple[Preset, ...] = ()
    spacing: Spacing | None = None

    @property
    def rows(self) -> int:
        """Pixels down."""
        return int(self.stored.shape[0])

    @property
    def columns(self) -> int:
        """Pixels across."""
        return int(self.stored.shape[1])

    def values(self, part: NDArray[Any] | None = None) -> NDArray[np.float32]:
        """Stored values made what they stand for: slope times value plus intercept (PS3.3
        C.11.1.1.2)."""
        stored = self.stored if part is None else part
        real = stored.astype(np.float32)
        if self.slope != 1.0:
            real *= np.float32(self.slope)
        if self.intercept != 0.0:
            real += np.float32(self.intercept)
        return real

    def value_at(self, row: int, column: int) -> float:
        """What the pixel stands for; raises Refused outside the picture."""
        if not (0 <= row < self.rows and 0 <= column < self.columns):
            raise Refused(
                f"the point {column}, {row} lies outside the picture of {self.columns} by "
                f"{self.rows} pixels"
            )
        return float(self.stored[row, column]) * self.slope + self.intercept

    @cached_property
    def whole(self) -> Preset:
        """The window from the least value to the largest."""
        ends = sorted(
            float(end) * self.slope + self.intercept
            for end in (self.stored.min(), self.stored.max())
        )
        return between(ends[0], ends[1])

    @cached_property
    def usual(self) -> Preset:
        """The window of all values but half a per cent at each end."""
        some = self.stored.reshape(-1)
        some = some[:: max(1, some.size // 200_000)]
        low, high = np.percentile(some, (0.5, 99.5))
        ends = sorted(float(end) * self.slope + self.intercept for end in (low, high))
        return between(ends[0], ends[1])

    @property
    def first(self) -> Preset:
        """How it is shown when nobody asked for a window."""
        return self.presets[0] if self.presets else self.usual


def between(low: float, high: float) -> Preset:
    """The window whose lowest shade is `low` and whose highest is `high` (see `windowed`)."""
    return Preset(level=(low + high) / 2 + 0.5, window=max(high - low, 0.0) + 1.0)


def check_shape(name: str, rows: int, columns: int) -> None:
    """Raise Refused for a picture without a pixel, or of more than is decoded."""
    if rows < 1 or columns < 1:
        raise Refused(f"{name} holds no pixel; export it again")
    if rows * columns > MOST_PIXELS:
        raise Refused(
            f"{name} has {columns} by {rows} pixels, more than "
            f"{MOST_PIXELS // 1_000_000} million; crop it to what matters"
        )


def spacing_of(row_mm: Any, column_mm: Any, source: str) -> Spacing | None:
    """A spacing that can be one; None for any other."""
    try:
        row, column = float(row_mm), float(column_mm)
    except (TypeError, ValueError):
        return None
    fits = all(math.isfinite(mm) and LEAST_MM <= mm <= MOST_MM for mm in (row, column))
    return Spacing(row_mm=row, column_mm=column, source=source) if fits else None

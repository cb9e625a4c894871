"""Which part of a radiograph is shown, how, and the picture of it."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ringwright.imaging.film import Film
from ringwright.imaging.window import WHITEST, windowed

WIDEST_PX: Final = 1024
"""A drawn picture is at most so wide and so high."""
LEAST_ACROSS: Final = 8
BARS: Final = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A window, a part of the picture in its pixels, and which way round it is shown."""

    level: float
    window: float
    turned: bool = False
    """The other way round than the file says: a negative as a positive."""
    left: int = 0
    top: int = 0
    across: int = 0
    down: int = 0

    def on(self, film: Film) -> View:
        """The same, kept within the picture; without a size the whole of it."""
        across = film.columns if self.across <= 0 else self.across
        across = min(film.columns, max(min(LEAST_ACROSS, film.columns), across))
        down = self.down if self.down > 0 else round(across * film.rows / film.columns)
        down = min(film.rows, max(min(LEAST_ACROSS, film.rows), down))
        return replace(
            self,
            across=across,
            down=down,
            left=min(max(0, self.left), film.columns - across),
            top=min(max(0, self.top), film.rows - down),
        )

    def part(self, film: Film) -> NDArray[Any]:
        """The stored values of the part that is shown."""
        part: NDArray[Any] = film.stored[
            self.top : self.top + self.down, self.left : self.left + self.across
        ]
        return part

    def zoomed(self, factor: float) -> View:
        """A part so many times as wide, about the same middle."""
        across = max(LEAST_ACROSS, round(self.across * factor))
        down = max(LEAST_ACROSS, round(self.down * factor))
        left = round(self.left + (self.across - across) / 2)
        top = round(self.top + (self.down - down) / 2)
        return replace(self, left=left, top=top, across=across, down=down)

    def moved(self, right: float, down: float) -> View:
        """The part beside it, by shares of its own size."""
        left = self.left + round(right * self.across)
        return replace(self, left=left, top=self.top + round(down * self.down))


def size_of(view: View, film: Film) -> tuple[int, int]:
    """Width and height of the drawn picture: a pixel becomes whole pixels where it is
    enlarged, and is as wide as high on the part as the file's spacing says."""
    ratio = film.spacing.row_mm / film.spacing.column_mm if film.spacing else 1.0
    ratio = min(max(ratio, 0.25), 4.0)
    largest = max(view.across, view.down * ratio)
    scale = WIDEST_PX / largest
    scale = float(int(scale)) if scale >= 1 else scale
    wide, high = view.across * scale, view.down * ratio * scale
    return max(1, min(WIDEST_PX, round(wide))), max(1, min(WIDEST_PX, round(high)))


def drawn(film: Film, view: View, size: tuple[int, int] | None = None) -> bytes:
    """The picture as an 8-bit PNG.

    Where it is made smaller, values are averaged before they are windowed, as a detector with
    larger pixels would have read them; where it is enlarged, each pixel is repeated.
    """
    from PIL import Image

    view = view.on(film)
    wide, high = size or size_of(view, film)
    values = film.values(view.part(film))
    if (wide, high) != (view.across, view.down):
        how = Image.Resampling.BOX if wide < view.across else Image.Resampling.NEAREST
        values = np.asarray(Image.fromarray(values).resize((wide, high), how))
    shades = windowed(values, view.level, view.window)
    if film.white_is_low != view.turned:
        shades = WHITEST - shades
    kept = io.BytesIO()
    picture = Image.fromarray(np.rint(shades).astype(np.uint8))
    picture.save(kept, "PNG", compress_level=3)
    return kept.getvalue()


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """How many pixels have a value from `low` up to the next bar."""

    low: float
    high: float
    pixels: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """The values of the part that is shown."""

    least: float
    mean: float
    largest: float
    bars: tuple[Bar, ...]


def counts_of(film: Film, view: View) -> Counts:
    """How often which value stands in the part that is shown."""
    values = film.values(view.on(film).part(film))
    least, largest = float(values.min()), float(values.max())
    span = (least, largest if largest > least else least + 1.0)
    found, edges = np.histogram(values, bins=BARS, range=span)
    bars = tuple(
        Bar(low=float(low), high=float(high), pixels=int(pixels))
        for low, high, pixels in zip(edges[:-1], edges[1:], found, strict=True)
    )
    mean = float(values.mean(dtype=np.float64))
    return Counts(least=least, mean=mean, largest=largest, bars=bars)

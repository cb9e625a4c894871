"""A text as Data Matrix (ISO/IEC 16022, ECC 200)."""

from __future__ import annotations

from dataclasses import dataclass

from ppf.datamatrix import DataMatrix

from ringwright.core.practice import label_of
from ringwright.kit.about import practice

QUIET = 1
"""Empty modules round the symbol, as the standard asks."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A symbol as one path of unit squares, its quiet zone included in the size."""

    side: int
    path: str


def blade_mark(serial: str) -> Mark | None:
    """The symbol of a blade's label, if any; a practice site's says that it is one."""
    return mark_of(label_of(serial) if practice() else serial)


def mark_of(text: str) -> Mark | None:
    """The symbol of a text; None for one that no symbol holds.

    Names are ASCII for a scanner: one that types keys garbles every other letter anyway.
    """
    if not text.isascii():
        return None
    try:
        matrix = DataMatrix(text).matrix
    except ValueError:  # too long
        return None
    squares = [
        f"M{x + QUIET} {y + QUIET}h1v1h-1z"
        for y, row in enumerate(matrix)
        for x, dark in enumerate(row)
        if dark
    ]
    return Mark(side=len(matrix) + 2 * QUIET, path="".join(squares))

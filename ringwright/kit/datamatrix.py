"""A text as Data Matrix (ISO/IEC 16022, ECC 200)."""

from __future__ import annotations

from dataclasses import dataclass

from ppf.datamatrix import DataMatrix

QUIET = 1
"""Empty modules round the symbol, as the standard asks."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A symbol as one path of unit squares, its quiet zone included in the size."""

    side: int
    path: str


def mark_of(text: str) -> Mark:
    """The symbol of a text; raises ValueError for one that no symbol holds."""
    matrix = DataMatrix(text).matrix
    squares = [
        f"M{x + QUIET} {y + QUIET}h1v1h-1z"
        for y, row in enumerate(matrix)
        for x, dark in enumerate(row)
        if dark
    ]
    return Mark(side=len(matrix) + 2 * QUIET, path="".join(squares))

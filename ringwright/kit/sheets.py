"""Figures as a sheet: the one source of the table on a page and of the file made from it.

A page builds its figures once as sheets. The table under the picture shows each cell's text;
the file shows the same text and, beside it, the figure in full precision: they cannot differ.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from ringwright.kit.left import Left

TEXT, WHOLE, NUMBER, SHARE, MOMENT = "text", "whole", "number", "share", "moment"
"""Kinds of column: words and codes, counts, measured figures, proportions 0 to 1, instants."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: its heading in the reader's words, its unit, its kind."""

    name: str
    kind: str = TEXT
    unit: str = ""
    head: bool = False
    """True for the column that names the row (a step, a serial)."""

    @property
    def is_figure(self) -> bool:
        """True where cells stand to the right: counts, figures, shares."""
        return self.kind in (WHOLE, NUMBER, SHARE)


@dataclass(frozen=True, slots=True)
class Cell:
    """One figure: as it is shown, and in full precision (an instant: microseconds UTC)."""

    shown: str
    value: str | int | float | None = None
    link: str = ""
    """Where the cell leads on the page; not in the file."""
    left: Left | None = None
    """The time left until the instant, run down beside it on the page; not in the file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A table with its title, in the order of the screen."""

    code: str
    """Short plain name: the worksheet's, and part of a CSV file's."""
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    of: int | None = None
    """How many rows there are in all, where the screen shows only the first of them."""
    note: str = ""

    @property
    def id(self) -> str:
        """The code as an id on a page and a piece of a file's name."""
        return plain(self.code)

    def cells(self, row: tuple[Cell, ...]) -> list[tuple[Column, Cell]]:
        """The cells of a row, each with its column."""
        return list(zip(self.columns, row, strict=True))

    @property
    def cut(self) -> bool:
        """True where there are more rows than are shown."""
        return self.of is not None and self.of > len(self.rows)

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(
                    f"sheet {self.code}: a row has {len(row)} cells for "
                    f"{len(self.columns)} columns"
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """What is exported from one page: its question, its answer, what it was drawn from."""

    page: str
    """Short plain name of the page, for the file's name."""
    question: str
    answer: str
    filters: tuple[tuple[str, str], ...]
    """(word, value) of everything that narrows what is shown."""
    cut_off: str
    """As of when, in which zone, from which entry and head hash."""
    zone: str
    at_us: int
    """The moment the page speaks of."""
    sheets: tuple[Sheet, ...]
    practice: str = ""
    """Code of the practice site it is from, which every file of it says; empty: a real one."""
    reconciliation: tuple[str, ...] = field(default=())
    """Lines that account for every part: opening and created against what became of them."""

    def sheet(self, code: str) -> Sheet:
        """The sheet of that code; raises KeyError."""
        return {sheet.code: sheet for sheet in self.sheets}[code]


def plain(text: str) -> str:
    """Letters, digits and hyphens only, for ids and file names."""
    return re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-") or "x"

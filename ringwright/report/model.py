"""What a weekly report is made from: the Week page's own figures, and the visits under them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.flow.board import Board, BoardStrip
from ringwright.flow.model import WeekSheet
from ringwright.flow.published import Publication
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import Book
from ringwright.kit.words import Words

PDF, XLSX, CSV, PARQUET = "pdf", "xlsx", "csv", "parquet"
FORMS: Final = (PDF, XLSX, CSV, PARQUET)
"""The forms a report is taken in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitLine:
    """One visit that ended in the week; instants in microseconds UTC, who did it left out."""

    serial: str
    product: str
    revision: str
    step: int
    first: bool
    ready_us: int
    begin_us: int
    end_us: int
    outcome: str | None
    defect: str | None
    card: str | None
    pause_us: int
    touch_us: int | None
    queue_us: int | None
    station: str
    lot: str | None
    part_lot: str | None
    run: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What the record answered, from one snapshot, before it is put in words."""

    sheet: WeekSheet
    """With one strip: that of the product."""
    publication: Publication
    visits: tuple[VisitLine, ...]
    practice: str
    """Code of the practice site it is of; empty: a real one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A report in one language: the page's board and book, and what is written with them."""

    board: Board
    book: Book
    visits: tuple[VisitLine, ...]
    words: Words
    show: Figures

    @property
    def strip(self) -> BoardStrip:
        """The product's own strip."""
        return self.board.strips[0]

    @property
    def product(self) -> str:
        """Its code."""
        return self.strip.strip.numbers.product

    @property
    def sheet(self) -> WeekSheet:
        """The snapshot."""
        return self.board.sheet

"""Reads tables of figures, and the files made from them, to set them side by side."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

import openpyxl


@dataclass
class Tables(HTMLParser):
    """The cells of every table that a Sheet was drawn as, by the sheet's code."""

    found: dict[str, list[list[str]]] = field(default_factory=dict)
    captions: dict[str, str] = field(default_factory=dict)
    code: str | None = None
    cell: list[str] | None = None
    caption: bool = False
    row: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "table":
            self.code = given.get("data-sheet")
            if self.code is not None:
                self.found[self.code] = []
        self.caption = self.caption or tag == "caption"
        if tag == "tr":
            self.row = []
        if tag in ("td", "th"):
            self.cell = []

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th") and self.cell is not None:
            self.row.append("".join(self.cell).strip())
            self.cell = None
        if tag == "tr" and self.code is not None:
            self.found[self.code].append(self.row)
        if tag == "caption":
            self.caption = False
        if tag == "table":
            self.code = None

    def handle_data(self, data: str) -> None:
        if self.cell is not None:
            self.cell.append(data)
        if self.caption and self.code is not None:
            self.captions[self.code] = self.captions.get(self.code, "") + data


def drawn_sheets(html: str) -> Tables:
    """Every sheet on a page: its rows as a person reads them, the heading first."""
    parser = Tables()
    parser.feed(html)
    return parser


def csv_table(body: bytes) -> tuple[list[list[str]], list[list[str]]]:
    """The head block and the table (its heading first) of a CSV file of one sheet."""
    rows = list(csv.reader(io.StringIO(body.decode("utf-8"), newline="")))
    assert len({len(row) for row in rows}) == 1, "RFC 4180 wants lines of one length"
    gap = next(place for place, row in enumerate(rows) if not any(row))
    return rows[:gap], rows[gap + 2 :]


def workbook(body: bytes) -> dict[str, list[list[Any]]]:
    """The values of every tab of a workbook, as another program reads them."""
    book = openpyxl.load_workbook(io.BytesIO(body))
    return {
        tab.title: [[cell.value for cell in row] for row in tab.iter_rows()] for tab in book
    }


FULL = ", in full"


def shown_only(table: list[list[str]]) -> list[list[str]]:
    """The columns that repeat the screen, those in full precision left out."""
    keep = [place for place, name in enumerate(table[0]) if FULL not in name and name]
    return [[row[place] for place in keep] for row in table]


def same(page: str, file: str) -> bool:
    """A cell of the page and of the file; a count is a bare number in the file."""
    bare = file.removeprefix("'")
    return page == bare or page.replace(",", "") == bare

"""A text parted into columns by tabs, semicolons or commas, as gauges and scales write it."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass

from ringwright.core.errors import Refused


@dataclass(frozen=True, slots=True, kw_only=True)
class Parted:
    """A text as rows of cells, with its heading and the line each row stands on."""

    heading: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    """Those below the heading that are not blank."""
    delimiter: str
    comma: bool
    """True where decimals are written with a comma."""


def read_parted(text: str, columns: int, too_few: str) -> Parted:
    """The rows of a text; raises Refused for one that is no table.

    The delimiter is the one of tab, semicolon and comma that parts the first line most often;
    `too_few` is said where that line has fewer than so many columns. Figures have decimal
    commas where the text is not parted by commas and some figure has one.
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    if not first:
        raise Refused("the file is empty; its first row names the columns")
    delimiter = max(("\t", ";", ","), key=first.count)
    if first.count(delimiter) < columns - 1:
        raise Refused(too_few)
    try:
        found = [*csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)]
    except csv.Error as trouble:
        raise Refused(f"the file is no CSV: {trouble}") from None
    rows = [(n, tuple(row)) for n, row in enumerate(found, start=1) if any(map(str.strip, row))]
    if not rows:  # delimiters with nothing between them
        raise Refused("the file is empty; its first row names the columns")
    body = tuple(rows[1:])
    comma = delimiter != "," and any(
        re.fullmatch(r"[+-]?\d+,\d+", cell.strip()) for _, row in body for cell in row
    )
    heading = tuple(title.strip() for title in rows[0][1])
    return Parted(heading=heading, rows=body, delimiter=delimiter, comma=comma)

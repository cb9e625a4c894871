"""A gauge study as text: from a file, typed, or from the grid of the page."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from ringwright.core.errors import BadRows, Refused
from ringwright.core.fields import problem_of_text
from ringwright.kit.typed import parse_reading
from ringwright.measure.study import MOST, StudyReading

COLUMNS: Final[dict[str, tuple[str, ...]]] = {
    "part": ("part", "serial", "sample", "piece"),
    "operator": ("operator", "appraiser", "inspector", "by"),
    "value": ("value", "reading", "result", "measurement"),
}
"""Column to the names it is known by in a header row."""
LONGEST: Final = 80
CELL: Final = re.compile(r"cell\.(\d+)\.(\d+)\.(\d+)")


def read_study(text: str, names: Mapping[str, str] | None = None) -> list[StudyReading]:
    """The readings of a text: part, operator and value on each line.

    Columns are parted by commas, semicolons or tabs, typed lines also by blanks. A header row
    may name them in any order; without one they stand in that order. `names` says what the
    header calls a column that it does not call by one of its known names. Raises BadRows naming
    every bad line, Refused for a text without readings or a header without a column.
    """
    lines = [(n, line) for n, line in enumerate(text.splitlines(), start=1) if line.strip()]
    if not lines:
        raise Refused("the study has no readings; one line a reading: part, operator, value")
    rows = [(n, _cells(line)) for n, line in lines]
    places = _header(rows[0][1], names or {})
    if places is None:
        places = {"part": 0, "operator": 1, "value": 2}
    else:
        rows = rows[1:]
    if len(rows) > MOST:
        raise Refused(f"{len(rows)} readings are too many for one study; {MOST} at most")
    found, bad = [], []
    for number, cells in rows:
        try:
            found.append(_reading(cells, places))
        except Refused as refusal:
            bad.append((number, refusal.message))
    if bad:
        raise BadRows(bad)
    return found


def _cells(line: str) -> list[str]:
    for mark in ("\t", ";", ","):
        if mark in line:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=mark))]
    return line.split()


def _header(cells: Sequence[str], names: Mapping[str, str]) -> dict[str, int] | None:
    """Where each column stands; None when the first row is a reading already."""
    small = [cell.casefold() for cell in cells]
    known = {column: _known(column, names) for column in COLUMNS}
    found = {
        column: small.index(name)
        for column, wanted in known.items()
        for name in wanted[::-1]  # the first of the names has the last word
        if name in small
    }
    if not found and not names:
        return None
    missing = [column for column in COLUMNS if column not in found]
    if missing:
        sought = "; ".join(f"{column}: {', '.join(known[column])}" for column in missing)
        raise Refused(f"the header names no {' and no '.join(missing)} column ({sought})")
    return found


def _known(column: str, names: Mapping[str, str]) -> tuple[str, ...]:
    told = names.get(column, "")
    return (told.casefold(),) if told else COLUMNS[column]


def _reading(cells: Sequence[str], places: Mapping[str, int]) -> StudyReading:
    if len(cells) <= max(places.values()):
        raise Refused("part, operator and value are wanted")
    part, operator = cells[places["part"]], cells[places["operator"]]
    for name, text in (("part", part), ("operator", operator)):
        if not text:
            raise Refused(f"{name} is missing")
        problem = problem_of_text(text)
        if problem is not None or len(text) > LONGEST:
            raise Refused(f"{name} {problem or 'is too long'}")
    return StudyReading(
        part=part, operator=operator, value=parse_reading(cells[places["value"]])
    )


def grid_text(fields: Mapping[str, str]) -> str:
    """The grid of the page as lines of text; cells left empty are left out.

    `cell.P.O.R` is what operator O read part P as for the Rth time; `part.P` and `operator.O`
    name them, else they are called by their number.
    """
    return "\n".join(_grid_lines(fields))


def _grid_lines(fields: Mapping[str, str]) -> Iterator[str]:
    for name, value in fields.items():
        place = CELL.fullmatch(name)
        if place is None or not value.strip():
            continue
        part = fields.get(f"part.{place[1]}", "").strip() or place[1]
        operator = fields.get(f"operator.{place[2]}", "").strip() or place[2]
        yield "\t".join((part, operator, value.strip()))

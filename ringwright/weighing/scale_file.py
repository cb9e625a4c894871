"""What a scale wrote: a CSV file, its columns chosen once, its rows judged before anything."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from ringwright.balance.units import KNOWN
from ringwright.core.errors import Refused
from ringwright.core.fields import problem_of_code
from ringwright.core.parted import read_parted

MOST_ROWS: Final = 5_000
MOST_COLUMNS: Final = 40
SERIAL: Final = "serial"
_FIGURE: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
KIND_OF_UNIT: Final[dict[str, str]] = {
    "g_mm": "moment", "g_mm2": "axial", "g": "mass", "Hz": "frequency",
}  # fmt: skip
"""A characteristic's unit to the kind of figures a file may give in other units."""
RECORD_UNIT: Final[dict[str, str]] = {
    "moment": "g_mm", "axial": "g_mm2", "mass": "g", "frequency": "hz",
}  # fmt: skip
"""Kind to the name, among the units of files, of the unit the record keeps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleTable:
    """A file as rows of text, with its heading and the line each row stands on."""

    heading: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    delimiter: str
    comma: bool
    """True where decimals are written with a comma."""

    @property
    def signature(self) -> str:
        """What the same scale's next file has in common with this one."""
        return "|".join(title.strip().lower() for title in self.heading)


def read_table(text: str) -> ScaleTable:
    """The rows of a file; raises Refused for one that is none."""
    few = "the first row names one column only; serial and reading are wanted"
    found = read_parted(text, 2, few)
    if len(found.heading) > MOST_COLUMNS or len(found.rows) > MOST_ROWS:
        raise Refused(f"up to {MOST_ROWS} rows and {MOST_COLUMNS} columns are read at once")
    if not found.rows:
        raise Refused("the file has a heading and no rows")
    return ScaleTable(
        heading=found.heading, rows=found.rows, delimiter=found.delimiter, comma=found.comma
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Which column holds what: the serial, and each characteristic by its code."""

    serial: int
    readings: dict[str, int]
    units: dict[str, str] = field(default_factory=dict)
    """Characteristic to the unit of the file, where it has others than the record's."""


def guess(table: ScaleTable, codes: Sequence[str]) -> dict[str, int]:
    """Columns whose headings say what they are: serial, and characteristics by their codes."""
    plain = [re.sub(r"[^a-z0-9]+", "_", title.lower()).strip("_") for title in table.heading]
    found: dict[str, int] = {}
    for place, title in enumerate(plain):
        if title in (SERIAL, "serial_number", "part", "id", "blade") and SERIAL not in found:
            found[SERIAL] = place
    for code in sorted(codes, key=len, reverse=True):
        wanted = code.lower()
        match = next(
            (
                place
                for place, title in enumerate(plain)
                if place not in found.values()
                and (title == wanted or title.startswith(f"{wanted}_"))
            ),
            None,
        )
        if match is not None:
            found[code] = match
    return found


def factor_of(unit: str, given: str) -> float:
    """What turns a figure of the file into the characteristic's unit; raises Refused."""
    if not given or given == unit:
        return 1.0
    kind = KIND_OF_UNIT.get(unit)
    if kind is None or given not in KNOWN[kind]:
        raise Refused(f"{given[:20]!r} is no unit of what is kept in {unit}")
    return KNOWN[kind][given]


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleRow:
    """One row as it will be booked, or why not."""

    line: int
    serial: str
    values: dict[str, float]
    why: str = ""


def rows_of(table: ScaleTable, chosen: Chosen, factors: Mapping[str, float]) -> list[ScaleRow]:
    """Every row in the record's units; what is wrong with one stands in it."""
    return [_row(line, cells, table, (chosen, factors)) for line, cells in table.rows]


def _row(
    line: int,
    cells: Sequence[str],
    table: ScaleTable,
    how: tuple[Chosen, Mapping[str, float]],
) -> ScaleRow:
    chosen, factors = how
    serial = _cell(cells, chosen.serial)
    values: dict[str, float] = {}
    why = "" if serial else "no serial"
    problem = problem_of_code(serial) if serial else None
    why = f"serial {problem}" if problem else why
    for code, place in chosen.readings.items():
        text = _cell(cells, place)
        if not text:
            continue
        bare = text.replace(",", ".") if table.comma else text
        if not _FIGURE.fullmatch(bare) or not math.isfinite(float(bare)):
            why = why or f"{code}: {text[:30]!r} is not a figure"
            continue
        values[code] = _scaled(float(bare), factors.get(code, 1.0))
    if not values and not why:
        why = "no reading"
    return ScaleRow(line=line, serial=serial, values=values, why=why)


def _scaled(value: float, factor: float) -> float:
    """The figure in the record's unit, without the noise that binary floats add."""
    return value if factor == 1.0 else float(f"{value * factor:.12g}")


def _cell(cells: Sequence[str], place: int) -> str:
    return cells[place].strip() if 0 <= place < len(cells) else ""

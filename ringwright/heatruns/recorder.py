"""What a furnace's recorder wrote: a CSV file of its own columns, units and clock.

Nothing is guessed silently: which column is what is shown, with what each figure becomes, and
every row that cannot be read is named with its line.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np

from ringwright.core.errors import Refused
from ringwright.core.instants import known_zone, parse_instant
from ringwright.furnaces.card import Columns
from ringwright.heat.reading import merged
from ringwright.heat.trace import Floats, Trace
from ringwright.heat.units import CELSIUS, to_celsius, to_kpa

MOST_ROWS: Final = 200_000
MOST_COLUMNS: Final = 80
PRESSURE: Final = "pressure_kpa"
KPA: Final = "kPa"
BLANKS: Final = frozenset({"", "-", "--", "---", "nan", "n/a", "na", "null"})
"""What recorders write where they read nothing (common practice, no source)."""
_LOOKED_AT: Final = 50
_FIGURE: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_COMMA: Final = re.compile(r"[+-]?\d+,\d+")
_OFFSET: Final = re.compile(r"(Z|[+-]\d\d(:?\d\d)?)$", re.IGNORECASE)
_DATE_LETTERS: Final = 11


@dataclass(frozen=True, slots=True, kw_only=True)
class BadRow:
    """A row that cannot be read as it stands."""

    line: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecorderTable:
    """A file as columns of text under their titles, with the line each row stands on."""

    heading: tuple[str, ...]
    """Each title once; one that the file repeats is numbered."""
    units: tuple[str, ...]
    """Of a second heading row that names them; empty where there is none."""
    lines: tuple[int, ...]
    columns: tuple[tuple[str, ...], ...]
    bad: tuple[BadRow, ...]
    """Rows that are wider or narrower than the heading."""
    delimiter: str
    comma: bool
    """True where decimals are written with a comma."""
    before: int
    """Rows that stand before the heading and are passed over."""

    def column(self, title: str) -> tuple[str, ...]:
        """The cells under a title."""
        return self.columns[self.heading.index(title)]


def read_table(text: str) -> RecorderTable:
    """The rows of a file; raises Refused for one that is none.

    Rows before the heading are passed over: the heading is the first row as wide as most.
    """
    delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        found = [(reader.line_num, row) for row in reader if any(map(str.strip, row))]
    except csv.Error as trouble:
        raise Refused(f"the file is no CSV: {trouble}") from None
    if len(found) > MOST_ROWS + _LOOKED_AT:
        raise Refused(f"up to {MOST_ROWS} rows are read at once; cut the file into pieces")
    head = _heading(found)
    width, titles = len(found[head][1]), found[head][1]
    if width > MOST_COLUMNS:
        raise Refused(f"up to {MOST_COLUMNS} columns are read; this file has {width}")
    units = _units(found[head + 1][1]) if len(found) > head + 1 else ()
    body = found[head + (2 if units else 1) :]
    kept, bad = _even(body, width)
    if not kept:
        raise Refused("the file has a heading and no rows")
    return RecorderTable(
        heading=_once(titles),
        units=units,
        lines=tuple(line for line, _ in kept),
        columns=tuple(zip(*(row for _, row in kept), strict=True)),
        bad=tuple(bad),
        delimiter=delimiter,
        comma=delimiter != "," and _has_commas(kept),
        before=head,
    )


def _delimiter(text: str) -> str:
    """Tab or semicolon where most of the first lines have one, else the comma."""
    lines = [line for line in text.splitlines()[: 2 * _LOOKED_AT] if line.strip()]
    if not lines:
        raise Refused("the file is empty; its first row names the columns")
    seen = lines[:_LOOKED_AT]
    for mark in ("\t", ";"):
        if 2 * sum(mark in line for line in seen) > len(seen):
            return mark
    return ","


def _heading(rows: Sequence[tuple[int, list[str]]]) -> int:
    """The place of the row that names the columns; raises Refused where none does."""
    widths = Counter(len(row) for _, row in rows[: 4 * _LOOKED_AT])
    width = max(widths, key=lambda one: (widths[one], one))
    if width < 2:
        raise Refused("the rows hold one column only; a time and a reading are wanted")
    for place, (_, row) in enumerate(rows[:_LOOKED_AT]):
        if len(row) == width and 2 * sum(bool(cell.strip()) for cell in row) > width:
            if 2 * sum(_is_figure(cell) for cell in row) >= width:
                break
            return place
    raise Refused("no row names the columns; the recorder must write its heading too")


def _is_figure(cell: str) -> bool:
    bare = cell.strip()
    return bool(_FIGURE.fullmatch(bare) or _COMMA.fullmatch(bare))


def _units(row: list[str]) -> tuple[str, ...]:
    """The row under the heading where it holds units, not readings; else empty."""
    cells = tuple(cell.strip() for cell in row)
    wordy = all(not any(letter.isdigit() for letter in cell) for cell in cells)
    named = any(cell.casefold() not in BLANKS for cell in cells)
    return cells if wordy and named else ()


def _once(titles: Sequence[str]) -> tuple[str, ...]:
    found: list[str] = []
    for place, title in enumerate(titles, start=1):
        name = title.strip()[:120] or f"column {place}"
        number = 2
        unique = name
        while unique in found:
            unique, number = f"{name} ({number})", number + 1
        found.append(unique)
    return tuple(found)


def _even(
    rows: Sequence[tuple[int, list[str]]], width: int
) -> tuple[list[tuple[int, list[str]]], list[BadRow]]:
    """The rows as wide as the heading, and the others; blank cells beyond it are no matter."""
    if all(len(row) == width for _, row in rows):
        return list(rows), []
    kept, bad = [], []
    for line, row in rows:
        if len(row) < width or any(map(str.strip, row[width:])):
            bad.append(BadRow(line=line, why=f"{len(row)} cells under {width} columns"))
        else:
            kept.append((line, row[:width]))
    return kept, bad


def _has_commas(rows: Sequence[tuple[int, list[str]]]) -> bool:
    return any(_COMMA.fullmatch(cell.strip()) for _, row in rows[:2000] for cell in row)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """What times without an offset, or counted in seconds, are read by."""

    zone: str
    started_s: float
    """When the run's cycle began [s since 1970 UTC]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A file read by its columns: what would be kept, and what cannot be."""

    trace: Trace
    """In degC and kPa, sorted; times in seconds since 1970 UTC."""
    raw: dict[str, Floats]
    """Channel to its readings as the file has them, in the file's order."""
    kept: dict[str, Floats]
    """The same in degC or kPa."""
    bad: tuple[BadRow, ...]
    counted: bool
    """True where times are seconds counted from the run's start."""
    offsets: bool
    """True where the times say their own offset."""


def take(table: RecorderTable, columns: Columns, clock: Clock) -> Taken:
    """Read a file by its columns; a cell that is no figure is blank and named in `bad`.

    A row whose time cannot be read is left out and named too. Raises Refused for a column that
    is not there, an unknown unit, or where no time can be read at all.
    """
    for title in (columns.time, *columns.channels.values()):
        if title not in table.heading:
            raise Refused(f"the file has no column {title[:60]!r}; choose the columns anew")
    cells = [cell.strip() for cell in table.column(columns.time)]
    times = _times(table, cells, clock)
    bad = [*table.bad, *times.bad]
    raw: dict[str, Floats] = {}
    for channel, title in columns.channels.items():
        raw[channel], wrong = _readings(table, title)
        bad += wrong
    told = np.isfinite(times.at_s)
    if not told.any():
        raise Refused(f"no time can be read in column {columns.time[:60]!r}")
    kept = {channel: _converted(channel, raw[channel], columns) for channel in raw}
    stamps = tuple(cell for cell, good in zip(cells, told, strict=True) if good)
    pressure = kept.get(PRESSURE)
    trace = Trace(
        at_s=times.at_s[told],
        temperatures_c={name: kept[name][told] for name in kept if name != PRESSURE},
        pressure_kpa=None if pressure is None else pressure[told],
        stamps=stamps,
    )
    return Taken(
        trace=merged([trace]),
        raw=raw,
        kept=kept,
        bad=tuple(sorted(bad, key=lambda one: one.line)),
        counted=times.counted,
        offsets=times.offsets,
    )


def _converted(channel: str, values: Floats, columns: Columns) -> Floats:
    """In the record's unit, without the noise that binary arithmetic adds."""
    unit, own = columns.temperature_unit, CELSIUS
    if channel == PRESSURE:
        unit, own = columns.pressure_unit, KPA
    if unit == own:
        return values
    found = to_kpa(values, unit) if own == KPA else to_celsius(values, unit)
    # Finer than any recorder tells two readings apart.
    return np.round(found, 4)


def _readings(table: RecorderTable, title: str) -> tuple[Floats, list[BadRow]]:
    cells = table.column(title)
    try:
        values = np.array(list(map(float, cells)), dtype=np.float64)
        # float() reads 1_000 and inf too, which no recorder writes for a reading.
        if not np.isinf(values).any() and "_" not in "".join(cells):
            return values, []
    except ValueError:
        pass
    found, bad = np.full(len(cells), np.nan), []
    for place, cell in enumerate(cells):
        bare = cell.strip()
        if bare.casefold() in BLANKS:
            continue
        point = bare.replace(",", ".") if table.comma else bare
        if _FIGURE.fullmatch(point) and np.isfinite(float(point)):
            found[place] = float(point)
        else:
            why = f"{title}: {bare[:30]!r} is no figure"
            bad.append(BadRow(line=table.lines[place], why=why))
    return found, bad


@dataclass(frozen=True, slots=True, kw_only=True)
class _Times:
    at_s: Floats
    bad: list[BadRow]
    counted: bool = False
    offsets: bool = False


def _times(table: RecorderTable, cells: Sequence[str], clock: Clock) -> _Times:
    """Each row's time [s since 1970 UTC] as the first row spells it; NaN where it does not."""
    first = next(filter(None, cells), "")
    if _is_figure(first):
        return _counted(table, cells, clock)
    offsets = _has_offset(first)
    at_s, bad = np.full(len(cells), np.nan), []
    before = -np.inf
    for place, cell in enumerate(cells):
        try:
            if not cell:
                raise ValueError("no time")
            before = at_s[place] = _instant_s(cell, offsets, clock.zone, before)
        except ValueError as trouble:
            bad.append(BadRow(line=table.lines[place], why=str(trouble)))
    return _Times(at_s=at_s, bad=bad, offsets=offsets)


def _has_offset(text: str) -> bool:
    # From the eleventh letter on, so that the dashes of the date are none.
    return _OFFSET.search(text, _DATE_LETTERS) is not None


def _instant_s(text: str, offset: bool, zone: str, before: float) -> float:
    """One time in seconds; where clocks go back, the hour that follows is the second one."""
    first = parse_instant(text, None if offset else zone) / 1e6
    bare = datetime.fromisoformat(text.strip().upper())
    if bare.tzinfo is not None or first >= before:
        return first
    place = known_zone(zone)
    again = bare.replace(tzinfo=place, fold=1).timestamp()
    # Only where the wall showed that time twice; else the row merely stands out of order.
    return again if again > first else first


def _counted(table: RecorderTable, cells: Sequence[str], clock: Clock) -> _Times:
    at_s, bad = np.full(len(cells), np.nan), []
    for place, cell in enumerate(cells):
        point = cell.replace(",", ".") if table.comma else cell
        if _FIGURE.fullmatch(point):
            at_s[place] = clock.started_s + float(point)
        else:
            why = f"{cell[:40]!r} is no count of seconds" if cell else "no time"
            bad.append(BadRow(line=table.lines[place], why=why))
    return _Times(at_s=at_s, bad=bad, counted=True)

"""A furnace trace read from the CSV of a recorder, and batches of one run put together.

The header names the columns: `at`, then `tc1_c, tc2_c, …` and perhaps `pressure_kpa`. Columns
of other names are left alone, but not one that seems to hold a channel in another unit. Times
are ISO 8601, all with an offset or all without, or seconds. Blank cells and NaN are no reading.
Columns are parted by comma, semicolon or tab; where by another than the comma, decimals may be
written with one.

Rows in any order are sorted, repeated ones kept once. Where one time has two readings of one
channel, neither is believed and the time is kept among the clashes. A row that lacks a reading
which another of the same time has does not contradict it.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC as ZULU
from datetime import datetime
from typing import Final

import numpy as np

from ringwright.core.errors import Refused
from ringwright.core.fields import shown
from ringwright.core.instants import parse_instant
from ringwright.heat.trace import LOCAL, SECONDS, UTC, Floats, Trace

MOST_BYTES: Final = 100_000_000
MOST_COLUMNS: Final = 1_000
AT: Final = "at"
PRESSURE: Final = "pressure_kpa"
_CHANNEL: Final = re.compile(r"tc\w*_c", re.ASCII)
# Such a column holds a channel, but not as it is spelled here: another unit, another case.
_MEANT: Final = re.compile(r"tc[0-9_]|tc$|pressure", re.IGNORECASE)
_OFFSET: Final = re.compile(r"(Z|[+-]\d\d(:?\d\d(:?\d\d)?)?)$")
_DECIMAL_COMMA: Final = re.compile(r"\s*[+-]?\d*,\d+([eE][+-]?\d+)?\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """The rows of a file under its heading, each with the line it stands on."""

    name: str
    heading: tuple[str, ...]
    lines: Sequence[int]
    columns: Sequence[Sequence[str]]
    comma: bool
    """True where figures may have a decimal comma."""

    def refuse(self, bad: Sequence[tuple[int, str]]) -> None:
        """Refuse the file for the first of its bad rows, in one line."""
        if bad:
            line, why = min(bad)
            rest = f" (and {len(bad) - 1} more)" if len(bad) > 1 else ""
            raise Refused(f"{self.name} line {line}: {why}{rest}")


def read_trace(data: str | bytes, name: str = "the trace") -> Trace:
    """The trace of a file; raises Refused in one line, with the line where a row is bad.

    `data` is the file's text or its bytes (UTF-8, with or without byte order mark).
    """
    table = _table(_text(data, name), name)
    channels = _channels(table)
    spelled = [cell.strip() for cell in table.columns[table.heading.index(AT)]]
    clock, at_s = _times(table, spelled)
    readings = {channel: _readings(table, table.heading.index(channel)) for channel in channels}
    return _settled(at_s, readings, tuple(spelled), clock)


def merged(traces: Iterable[Trace]) -> Trace:
    """One run's trace from batches that may overlap, by the rules of a single file.

    A channel that one batch lacks has no readings there. Raises Refused where there is no
    batch, or where one counts seconds and another tells the time.
    """
    found = list(traces)
    if not found:
        raise Refused("there is no trace yet")
    clocks = {one.clock for one in found}
    if len(clocks) > 1:
        raise Refused(
            f"batches of a run must tell the time alike, not by {' and '.join(sorted(clocks))}"
        )
    names = list(dict.fromkeys(name for one in found for name in one.temperatures_c))
    readings = {
        name: np.concatenate([_of(one.temperatures_c.get(name), one) for one in found])
        for name in names
    }
    if any(one.pressure_kpa is not None for one in found):
        readings[PRESSURE] = np.concatenate([_of(one.pressure_kpa, one) for one in found])
    whole = all(len(one.stamps) == one.size for one in found)
    stamps = tuple(stamp for one in found for stamp in one.stamps) if whole else ()
    told = [clash for one in found for clash in one.clashes]
    at_s = np.concatenate([one.at_s for one in found])
    return _settled(at_s, readings, stamps, found[0].clock, told)


def spelled_time(trace: Trace, place: int) -> str:
    """The time of one sample as the file spells it, or as plainly as the trace knows it."""
    return trace.stamps[place] if trace.stamps else _spelled(trace.at_s[place], trace.clock)


def _of(values: Floats | None, trace: Trace) -> Floats:
    return np.full(trace.size, np.nan) if values is None else values


def _spelled(at_s: float, clock: str) -> str:
    if clock == SECONDS:
        return f"{at_s:.12g}"
    moment = datetime.fromtimestamp(round(float(at_s), 3), ZULU)
    text = moment.isoformat(timespec="milliseconds" if moment.microsecond else "seconds")
    return text if clock == UTC else text.removesuffix("+00:00")


def _settled(
    at_s: Floats,
    readings: Mapping[str, Floats],
    stamps: tuple[str, ...],
    clock: str,
    told: Sequence[str] = (),
) -> Trace:
    """Sorted, each time once, what contradicts itself left blank and named."""
    order = np.argsort(at_s, kind="stable")
    times = at_s[order]
    first = np.flatnonzero(np.diff(times, prepend=-np.inf) > 0)
    clash = np.zeros(first.size, dtype=bool)
    kept: dict[str, Floats] = {}
    for name, values in readings.items():
        sorted_ = values[order]
        low, high = np.fmin.reduceat(sorted_, first), np.fmax.reduceat(sorted_, first)
        apart = high > low
        clash |= apart
        kept[name] = np.where(apart, np.nan, low)
    times = times[first]
    spelled = tuple(stamps[place] for place in order[first]) if stamps else ()
    named = [
        spelled[place] if spelled else _spelled(times[place], clock)
        for place in np.flatnonzero(clash)
    ]
    pressure = kept.pop(PRESSURE, None)
    return Trace(
        at_s=times,
        temperatures_c=kept,
        pressure_kpa=pressure,
        stamps=spelled,
        clashes=tuple(dict.fromkeys([*told, *named])),
        clock=clock,
    )


def _text(data: str | bytes, name: str) -> str:
    if len(data) > MOST_BYTES:
        raise Refused(f"{name} holds over {MOST_BYTES // 1_000_000} MB")
    try:
        text = data if isinstance(data, str) else data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refused(f"{name} is no UTF-8 text") from None
    if "\0" in text:
        raise Refused(f"{name} is no table of text")
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise Refused(f"{name} is empty; its first row names the columns")
    return text


def _table(text: str, name: str) -> _Table:
    found = text.split("\n")
    skipped = next(place for place, line in enumerate(found) if line.strip())
    found = found[skipped:]
    delimiter = max((",", ";", "\t"), key=found[0].count)
    try:
        rows = list(csv.reader(found, delimiter=delimiter, strict=True))
    except csv.Error as trouble:
        raise Refused(f"{name} is no CSV: {trouble}") from None
    if len(rows) != len(found):
        raise Refused(f"{name} has a quoted cell over several lines")
    heading = tuple(title.strip() for title in rows[0])
    numbered = [
        (line, row)
        for line, row in enumerate(rows[1:], skipped + 2)
        if any(map(str.strip, row))
    ]
    body = _even(numbered, len(heading), name)
    if not body:
        raise Refused(f"{name} has a heading and no rows")
    return _Table(
        name=name,
        heading=heading,
        lines=[line for line, _ in numbered],
        columns=list(zip(*body, strict=True)),
        comma=delimiter != ",",
    )


def _even(rows: Sequence[tuple[int, list[str]]], width: int, name: str) -> list[list[str]]:
    """The rows at the heading's width; blank cells beyond it are no matter."""
    if all(len(row) == width for _, row in rows):
        return [row for _, row in rows]
    for line, row in rows:
        if len(row) < width or any(map(str.strip, row[width:])):
            raise Refused(f"{name} line {line}: {len(row)} cells under {width} columns")
    return [row[:width] for _, row in rows]


def _channels(table: _Table) -> list[str]:
    """The columns to read, in the file's order; raises Refused for a heading that is wrong."""
    heading = table.heading
    if len(heading) > MOST_COLUMNS:
        raise Refused(f"{table.name} has over {MOST_COLUMNS} columns")
    if AT not in heading:
        raise Refused(f"{table.name} has no column {AT}; it holds the time of each row")
    found = [name for name in heading if _CHANNEL.fullmatch(name) or name == PRESSURE]
    known = {AT, *found}
    meant = [name for name in heading if name not in known and _MEANT.match(name)]
    if meant:
        raise Refused(
            f"{table.name} has a column {shown(meant[0])}; channels are named tc1_c, tc2_c … "
            f"and {PRESSURE}, in °C and kPa"
        )
    for name in known:
        if heading.count(name) > 1:
            raise Refused(f"{table.name} has two columns {name}")
    if found in ([], [PRESSURE]):
        raise Refused(f"{table.name} has no thermocouple column; they are named tc1_c, tc2_c …")
    return found


def _times(table: _Table, spelled: Sequence[str]) -> tuple[str, Floats]:
    """(clock, seconds of each row); all rows tell the time as the first one does."""
    first = next(filter(None, spelled), "")
    if _figure(first, comma=table.comma) is not None:
        at_s = _readings(table, table.heading.index(AT))
        table.refuse([(table.lines[int(n)], "no time") for n in np.flatnonzero(np.isnan(at_s))])
        return SECONDS, at_s
    zoned = _has_offset(first)
    bad: list[tuple[int, str]] = []
    found: list[int] = []
    for line, text in zip(table.lines, spelled, strict=True):
        try:
            found.append(_instant(text, zoned))
        except ValueError as trouble:
            bad.append((line, str(trouble)))
    table.refuse(bad)
    return (UTC if zoned else LOCAL), np.array(found, dtype=np.float64) / 1e6


def _instant(text: str, zoned: bool) -> int:
    """Microseconds; without offsets as if the clock stood at UTC."""
    if not text:
        raise ValueError("no time")
    if _has_offset(text) != zoned:
        begins = "with an offset, this one without" if zoned else "without an offset, this with"
        raise ValueError(f"{shown(text)}: the first row is {begins}")
    return parse_instant(text, None if zoned else "UTC")


def _has_offset(text: str) -> bool:
    # From the eleventh letter on, so that the dashes of the date are none.
    return _OFFSET.search(text.upper(), 11) is not None


def _readings(table: _Table, column: int) -> Floats:
    """(n,) the figures of one column, NaN where a cell is blank; raises Refused for others."""
    cells = table.columns[column]
    try:
        values = np.array(list(map(float, cells)))
        # float() reads 1_000 and inf too, which no recorder writes for a reading.
        plain = not np.isinf(values).any() and "_" not in "".join(cells)
    except ValueError:
        plain = False
    return values if plain else _by_cell(table, column)


def _by_cell(table: _Table, column: int) -> Floats:
    cells = table.columns[column]
    title = table.heading[column]
    mixed = table.comma and any("," in cell for cell in cells) and any("." in c for c in cells)
    found = [_figure(cell.strip(), comma=table.comma and not mixed) for cell in cells]
    table.refuse(
        [
            (line, f"{title} {shown(cell.strip())} is no figure")
            for line, cell, value in zip(table.lines, cells, found, strict=True)
            if value is None
        ]
    )
    return np.array(found, dtype=np.float64)


def _figure(cell: str, *, comma: bool) -> float | None:
    """A figure; NaN of a blank cell or the word NaN; None of anything else."""
    if not cell:
        return float("nan")
    if comma and _DECIMAL_COMMA.fullmatch(cell):
        cell = cell.replace(",", ".")
    try:
        value = float(cell)
    except ValueError:
        return None
    return None if np.isinf(value) or "_" in cell else value

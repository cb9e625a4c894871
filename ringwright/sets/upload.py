"""A pool from a file: CSV or workbook; units asked once, checked by the population."""

from __future__ import annotations

import csv
import io
import re
import statistics
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ringwright.balance.pool import Blade, Pool
from ringwright.balance.pool_file import read_pool as read_standard
from ringwright.balance.units import KNOWN, UNITS, WIDE, slip_of
from ringwright.core.errors import BadRows, Refused
from ringwright.kit.forms import Upload

MOST_BYTES: Final = 5 * 1024 * 1024
MOST_UNPACKED: Final = 60 * 1024 * 1024
MOST_RATIO: Final = 200
MOST_ENTRIES: Final = 2_000
ACTIVE: Final = ("vbaproject", "macrosheets", "activex")
"""Parts of a workbook that hold programs."""
MOST_BLADES: Final = 20_000
MOST_COLUMNS: Final = 60
COLUMNS: Final = {
    "serial": ("serial", ""),
    "moment": ("moment_g_mm", "moment"),
    "moment_u": ("moment_u_g_mm", "moment"),
    "tangential": ("tangential_g_mm", "moment"),
    "axial": ("axial_g_mm2", "axial"),
    "mass": ("mass_g", "mass"),
    "frequency": ("frequency_hz", "frequency"),
}
"""Column to (its name in a pool, the kind of its unit)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """The units of a file, asked once."""

    moment: str = "g_mm"
    frequency: str = "hz"
    axial: str = "g_mm2"
    mass: str = "g"

    def __post_init__(self) -> None:
        for name, known in KNOWN.items():
            if getattr(self, name) not in known:
                raise Refused(f"{getattr(self, name)[:40]!r} is no unit of {name}")

    def factor(self, kind: str) -> float:
        """What turns a figure of this kind into the unit of a pool."""
        return KNOWN[kind][getattr(self, kind)] if kind else 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What blades of the product weigh and sound like, as far as it is known."""

    moment_g_mm: float | None = None
    frequency_hz: float | None = None


def read_upload(file: Upload, units: Units) -> Pool:
    """The blades of a file in g·mm and Hz; raises Refused, or BadRows naming every bad row."""
    if len(file.content) > MOST_BYTES:
        raise Refused(f"{file.name[:80]} is larger than 5 MB; a pool is smaller")
    ending = file.name.lower().rpartition(".")[2]
    packed = file.content[:4] == b"PK\x03\x04"
    if ending == "xlsx" and packed:
        rows = _workbook_rows(file.content)
    elif ending in ("csv", "txt") and not packed:
        rows = _csv_rows(file.text(MOST_BYTES))
    else:
        raise Refused(f"{file.name[:80]} is neither a CSV file nor an .xlsx workbook")
    return _pool(rows, units)


def _csv_rows(text: str) -> list[list[str]]:
    if "\x00" in text:
        raise Refused("the file holds NUL characters; save it as CSV UTF-8")
    first = text.partition("\n")[0]
    mark = ";" if ";" in first and "," not in first else "\t" if "\t" in first else ","
    try:
        return [*csv.reader(io.StringIO(text, newline=""), delimiter=mark)]
    except csv.Error as trouble:
        raise Refused(f"the file is no CSV: {trouble}") from None


def _workbook_rows(content: bytes) -> list[list[str]]:
    """The cells of the first sheet; raises Refused for macros, formulas and packed bombs."""
    _check_packed(content)
    from openpyxl import load_workbook  # only here: no other page needs it

    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=False)
        sheet = book.worksheets[0]
        rows, bad = [], []
        for number, cells in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS), start=1):
            if number > MOST_BLADES + 1:
                raise Refused(f"a pool holds up to {MOST_BLADES} blades")
            if any(getattr(cell, "data_type", "") == "f" for cell in cells):
                bad.append((number, "a cell is a formula; paste values instead"))
            rows.append([_cell_text(cell.value) for cell in cells])
    except Refused:
        raise
    except Exception as trouble:
        raise Refused(f"the workbook cannot be read: {type(trouble).__name__}") from None
    if bad:
        raise BadRows(bad)
    return rows


def _check_packed(content: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            entries = packed.infolist()
    except zipfile.BadZipFile:
        raise Refused("the workbook is damaged") from None
    if len(entries) > MOST_ENTRIES:
        raise Refused("the workbook is packed from more pieces than a pool needs")
    if any(part in entry.filename.lower() for entry in entries for part in ACTIVE):
        raise Refused("the workbook holds macros; save it as .xlsx without them")
    whole = sum(entry.file_size for entry in entries)
    if whole > MOST_UNPACKED or whole > MOST_RATIO * max(len(content), 1):
        raise Refused("the workbook unpacks to more than a pool may hold")


def _cell_text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return repr(value) if isinstance(value, float) else str(value)


def _pool(rows: Sequence[Sequence[str]], units: Units) -> Pool:
    """The rows as a pool, by way of the one reader of pools; lines keep their numbers."""
    if not rows:
        raise Refused("the file is empty; its first row names serial and moment at least")
    if len(rows) > MOST_BLADES + 1:
        raise Refused(f"a pool holds up to {MOST_BLADES} blades")
    columns = _columns(rows[0], units)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([name for _, name, _ in columns])
    for row in rows[1:]:
        fields = [_converted(row, place, factor) for place, _, factor in columns]
        writer.writerow(fields if any(fields) else [])
    return read_standard(out.getvalue())


def _columns(header: Sequence[str], units: Units) -> list[tuple[int, str, float]]:
    """(place, name in a pool, factor) of the columns that a pool has."""
    found: list[tuple[int, str, float]] = []
    for place, title in enumerate(header):
        plain = re.sub(r"[^a-z0-9]+", "_", title.replace("²", "2").lower()).strip("_")
        name, unit = _named(plain)
        if name is None:
            continue
        standard, kind = COLUMNS[name]
        _check_unit(title, unit, kind, units)
        found.append((place, standard, units.factor(kind)))
    lacking = {"serial", "moment_g_mm"} - {name for _, name, _ in found}
    if lacking:
        told = " and ".join(sorted(name.partition("_g")[0] for name in lacking))
        raise Refused(f"the first row names no column {told}; columns are {', '.join(COLUMNS)}")
    return found


def _named(plain: str) -> tuple[str | None, str]:
    """The column of a heading, and the unit behind it: moment_u_g_mm, `Moment (g·cm)`."""
    for name in sorted(COLUMNS, key=len, reverse=True):
        if plain == name or plain.startswith(f"{name}_"):
            return name, plain[len(name) + 1 :]
    return None, ""


def _check_unit(title: str, unit: str, kind: str, units: Units) -> None:
    """Raise Refused where the heading names another unit than the form."""
    if not kind or not unit:
        return
    if unit not in KNOWN[kind]:
        raise Refused(f"column {title[:40]!r}: {unit[:20]!r} is no unit of {kind}")
    if unit != getattr(units, kind):
        raise Refused(
            f"column {title[:40]!r} says {UNITS[unit]}, the form says "
            f"{UNITS[getattr(units, kind)]}; "
            "one of them is wrong"
        )


def _converted(row: Sequence[str], place: int, factor: float) -> str:
    """A field in the unit of a pool; what is no number is left for the reader to name."""
    text = row[place].strip() if place < len(row) else ""
    if factor == 1.0 or not text:
        return text
    try:
        return repr(float(text) * factor)
    except ValueError:
        return text


def slips(pool: Pool, expected: Expected, units: Units) -> tuple[str, ...]:
    """What looks like a slip of units: the whole file against the product, a blade against it.

    Nothing is corrected by itself; somebody must say that it is right as it is.
    """
    told: list[str] = []
    moments = [blade.moment_g_mm for blade in pool.blades]
    tones = [b.frequency_hz for b in pool.blades if b.frequency_hz is not None]
    told += _whole(moments, expected.moment_g_mm, "moment", units)
    told += _whole(tones, expected.frequency_hz, "frequency", units)
    told += _single(pool.blades, {b.serial: b.moment_g_mm for b in pool.blades}, "moment")
    by_tone = {b.serial: b.frequency_hz for b in pool.blades if b.frequency_hz is not None}
    told += _single(pool.blades, by_tone, "frequency")
    return tuple(told)


def _whole(values: list[float], expected: float | None, kind: str, units: Units) -> list[str]:
    told = slip_of(values, expected, kind, getattr(units, kind))
    return [told] if told else []


def _single(blades: Iterable[Blade], values: Mapping[str, float], kind: str) -> list[str]:
    if len(values) < 3:
        return []
    middle = statistics.median(values.values())
    off = [
        f"{blade.serial}: its {kind} is {values[blade.serial] / middle:.3g} times the median"
        for blade in blades
        if blade.serial in values and not 1 / WIDE < values[blade.serial] / middle < WIDE
    ]
    return [*off[:20], f"and {len(off) - 20} more"] if len(off) > 20 else off

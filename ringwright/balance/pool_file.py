"""Pools and rings from files: `serial, moment_g_mm` and the other readings, one blade a row."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ringwright.balance.pool import Blade, Pool
from ringwright.core.errors import BadRows, Refused

REQUIRED: Final = ("serial", "moment_g_mm")
OPTIONAL: Final = (
    "tangential_g_mm",
    "axial_g_mm2",
    "mass_g",
    "frequency_hz",
    "moment_u_g_mm",
)
ABOVE_NOTHING: Final = ("moment_g_mm", "mass_g", "frequency_hz")
"""Columns whose figures lie above 0; an uncertainty may be 0."""
READINGS: Final = ("moment", "tangential", "axial", "mass", "freq")
LONGEST: Final = 200
LARGEST: Final = 1e15
"""A figure above this is no blade's, whatever its unit; sums of such lose their meaning."""
LEAST: Final = 1e-15
"""The same for figures that must lie above 0."""
MOST_DIGITS: Final = 6
FORMULA: Final = ("=", "+", "-", "@", "\t")


def read_pool(text: str) -> Pool:
    """The blades of a CSV file; raises BadRows naming every bad row by its line."""
    table = _table(text, REQUIRED, (*REQUIRED, *OPTIONAL))
    bad: list[tuple[int, str]] = []
    blades: list[Blade] = []
    lines: dict[str, int] = {}
    for line, row, surplus in table:
        told = [surplus] if surplus else _told(row, lines)
        if told:
            bad.append((line, "; ".join(told)))
            continue
        lines[row["serial"]] = line
        blades.append(_blade(row))
    if bad:
        raise BadRows(bad)
    if not blades:
        raise Refused("the pool holds no blade")
    return Pool(blades=tuple(blades))


def _table(
    text: str, required: Sequence[str], known: Sequence[str]
) -> list[tuple[int, dict[str, str], str | None]]:
    """(line, row, what is wrong with its shape) of each row that is not blank.

    Raises Refused for a header that is wrong.
    """
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""))
    try:
        rows = [(reader.line_num, row) for row in reader]
    except csv.Error as trouble:
        raise Refused(f"line {reader.line_num}: {trouble}") from None
    if not rows:
        raise Refused(f"the file is empty; its header is {','.join(required)} at least")
    header = [name.strip() for name in rows[0][1]]
    _check_header(header, required, known)
    return [
        (line, _row(header, row), _surplus(header, row))
        for line, row in rows[1:]
        if any(field.strip() for field in row)
    ]


def _check_header(header: Sequence[str], required: Sequence[str], known: Sequence[str]) -> None:
    if len(header) == 1 and ";" in header[0]:
        raise Refused("line 1: columns are parted by commas here, with a decimal point")
    lacking = [name for name in required if name not in header]
    # Other columns are left alone, but not one that seems to hold a reading in another unit.
    unknown = [
        name for name in header if name not in known and name.lower().startswith(READINGS)
    ]
    # Spreadsheets leave nameless columns behind; they say nothing.
    twice = sorted({name for name in header if name and header.count(name) > 1})
    for what, names in (("lacks", lacking), ("does not know", unknown), ("repeats", twice)):
        if names:
            raise Refused(
                f"line 1: the header {what} {', '.join(names)[:200]}; columns are "
                f"{', '.join(known)}"
            )


def _surplus(header: Sequence[str], row: Sequence[str]) -> str | None:
    """Fields that stand under no column, such as those of a decimal comma."""
    if any(field.strip() for field in row[len(header) :]):
        return f"{len(row)} fields under {len(header)} columns"
    return None


def _row(header: Sequence[str], row: Sequence[str]) -> dict[str, str]:
    fields = [*row, *[""] * (len(header) - len(row))]
    return {name: field.strip() for name, field in zip(header, fields, strict=False)}


def _told(row: Mapping[str, str], lines: Mapping[str, int]) -> list[str]:
    """What is wrong with a row, in words; empty when nothing is."""
    told = _about_serial(row["serial"], lines)
    if not row["moment_g_mm"]:
        told.append("moment_g_mm is missing")
    for name in ("moment_g_mm", *OPTIONAL):
        text = row.get(name, "")
        if text and (why := _about_figure(name, text)):
            told.append(why)
    return told


def _about_serial(serial: str, lines: Mapping[str, int]) -> list[str]:
    if not serial:
        return ["serial is missing"]
    if not serial.isprintable() or len(serial) > LONGEST:
        return ["serial holds what no label bears, or is too long"]
    if serial.startswith(FORMULA):
        return [f"serial {serial[:40]} begins like a formula"]
    if serial in lines:
        return [f"serial {serial} stands in line {lines[serial]} already"]
    return []


def _about_figure(name: str, text: str) -> str | None:
    value = _figure(text)
    if value is None:
        return f"{name} {text[:40]!r} is no number"
    if name in ABOVE_NOTHING and value < LEAST:
        return f"{name} {text[:40]} must be above 0"
    if name == "moment_u_g_mm" and value < 0:
        return f"{name} {text[:40]} must be 0 or more"
    if abs(value) > LARGEST:
        return f"{name} {text[:40]} is larger than any blade's"
    return None


def _figure(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    # "1_000" is a number to the language and a slip to everybody else.
    return value if math.isfinite(value) and "_" not in text else None


def _blade(row: Mapping[str, str]) -> Blade:
    given = {name: float(row[name]) for name in OPTIONAL if row.get(name)}
    return Blade(serial=row["serial"], moment_g_mm=float(row["moment_g_mm"]), **given)


@dataclass(frozen=True, slots=True)
class RingFile:
    """A ring as it stands: the serial of slot 1 … N."""

    serials: tuple[str, ...]


def read_ring(text: str) -> RingFile:
    """A ring from a CSV file with the columns `slot, serial`, or from `ring --json`'s answer.

    Raises Refused, or BadRows naming every bad row.
    """
    if text.lstrip("\ufeff \t\r\n").startswith("{"):
        return RingFile(_checked(_from_json(text)))
    table = _table(text, ("slot", "serial"), ("slot", "serial"))
    bad = [(line, why) for line, row, surplus in table if (why := surplus or _about_slot(row))]
    if bad:
        raise BadRows(bad)
    slots = {int(row["slot"]): row["serial"] for _, row, _ in table}
    if sorted(slots) != list(range(1, len(table) + 1)):
        raise Refused(f"the ring must name each slot 1 to {max(len(table), 2)} once")
    return RingFile(_checked(slots[slot] for slot in sorted(slots)))


def _about_slot(row: Mapping[str, str]) -> str | None:
    text = row["slot"]
    if not (text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS):
        return f"slot {text[:40]!r} is no slot number"
    return None if row["serial"] else "serial is missing"


def _from_json(text: str) -> list[Any]:
    try:
        given = json.loads(text.removeprefix("\ufeff"))
        sets = given.get("sets", [given])
        slots = sets[0]["slots"]
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
        raise Refused("the ring is no answer of `ring --json`: it has no slots") from None
    if not isinstance(slots, list):
        raise Refused("the ring's slots are no list of serials")
    return slots


def _checked(given: Iterable[Any]) -> tuple[str, ...]:
    serials = tuple(given)
    if len(serials) < 2 or not all(isinstance(s, str) and s for s in serials):
        raise Refused("a ring names a serial for each of its slots, two at least")
    if len(set(serials)) < len(serials):
        raise Refused("a blade stands in two slots of the ring")
    return serials

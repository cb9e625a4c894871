"""What a scale's file would book, part by part, and what looks wrong before anything is."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from sqlalchemy import select

from ringwright.balance.units import slip_of
from ringwright.db import FOREVER_US
from ringwright.ledger.service import Read
from ringwright.parts.tables import PartNow, Reading
from ringwright.routecards.card import Characteristic, RouteCard
from ringwright.routecards.queries import card_finder
from ringwright.weighing.repeats import Repeats, summarise
from ringwright.weighing.scale_file import KIND_OF_UNIT, RECORD_UNIT, Chosen, ScaleRow

FindCard = Callable[[str, str], RouteCard]
POPULATION: Final = 100
"""Latest readings that a file's median is held against."""
PLACES: Final[dict[str, str]] = {
    "waiting": "waits for step {step}; begin it there first",
    "released": "is released",
    "fitted": "is fitted",
    "sent": "is sent",
    "scrapped": "is scrapped",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One characteristic of one part as the file has it."""

    code: str
    values: tuple[float, ...]
    lines: tuple[int, ...]
    """The file's line of each value."""
    left_out: tuple[int, ...]
    """Places, from 0, of values that somebody sets aside."""
    repeats: Repeats | None
    characteristic: Characteristic | None
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine:
    """One part of the file: its readings, or why it cannot be booked."""

    serial: str
    lines: tuple[Line, ...]
    product: str = ""
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class Preview:
    """The whole file."""

    parts: tuple[PartLine, ...]
    bad: tuple[ScaleRow, ...]
    slips: tuple[str, ...]

    @property
    def bookable(self) -> tuple[PartLine, ...]:
        """The parts that can be booked."""
        return tuple(one for one in self.parts if not one.why)

    @property
    def refused(self) -> tuple[PartLine, ...]:
        """The parts that cannot."""
        return tuple(one for one in self.parts if one.why)


@dataclass(frozen=True, slots=True, kw_only=True)
class How:
    """What was chosen beside the columns: units, what is set aside, the gauge's uncertainty."""

    chosen: Chosen
    left_out: frozenset[tuple[int, str]] = frozenset()
    """Line and characteristic of each value that is set aside."""
    uncertainties: Mapping[str, float | None] = field(default_factory=dict)
    """Characteristic to the gauge's standard uncertainty in its unit."""


def make_preview(read: Read, rows: Sequence[ScaleRow], how: How) -> Preview:
    """Judge every row; nothing is stored."""
    good = [row for row in rows if not row.why]
    serials = list(dict.fromkeys(row.serial for row in good))
    standing = _standing(read, serials)
    find = card_finder(read.connection, read.site.id)
    parts = []
    for serial in serials:
        own = [row for row in good if row.serial == serial]
        parts.append(_part(serial, own, standing.get(serial), (find, how)))
    return Preview(
        parts=tuple(parts),
        bad=tuple(row for row in rows if row.why),
        slips=tuple(_slips(read, parts, how)),
    )


def _standing(read: Read, serials: Sequence[str]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for start in range(0, len(serials), 500):
        query = select(
            PartNow.serial, PartNow.product, PartNow.revision, PartNow.place, PartNow.step
        ).where(
            PartNow.site_id == read.site.id,
            PartNow.serial.in_(serials[start : start + 500]),
        )
        found |= {row.serial: row for row in read.connection.execute(query)}
    return found


def _part(
    serial: str,
    rows: Sequence[ScaleRow],
    stands: Any,
    with_: tuple[FindCard, How],
) -> PartLine:
    find, how = with_
    if stands is None:
        lines = _lines(rows, None, how)
        return PartLine(serial=serial, lines=lines, why="is no part of this site")
    step = find(stands.product, stands.revision).by_number.get(stands.step or -1)
    lines = _lines(rows, step, how)
    unknown = [line.code for line in lines if line.characteristic is None]
    why = f"step {stands.step} reads no {', '.join(unknown)}" if unknown else ""
    if stands.place != "in work":
        why = PLACES.get(stands.place, stands.place).format(step=stands.step)
    return PartLine(serial=serial, lines=lines, product=stands.product, why=why)


def _lines(rows: Sequence[ScaleRow], step: Any, how: How) -> tuple[Line, ...]:
    codes = list(dict.fromkeys(code for row in rows for code in row.values))
    return tuple(_line(code, rows, step, how) for code in codes)


def _line(code: str, rows: Sequence[ScaleRow], step: Any, how: How) -> Line:
    own = [row for row in rows if code in row.values]
    values = tuple(row.values[code] for row in own)
    lines = tuple(row.line for row in own)
    left_out = tuple(n for n, line in enumerate(lines) if (line, code) in how.left_out)
    repeats = summarise(values, left_out, how.uncertainties.get(code))
    characteristic = step.characteristic(code) if step else None
    verdict = ""
    if characteristic is not None and repeats is not None:
        verdict = characteristic.verdict(repeats.mean, repeats.uncertainty)
    return Line(
        code=code,
        values=values,
        lines=lines,
        left_out=left_out,
        repeats=repeats,
        characteristic=characteristic,
        verdict=verdict,
    )


def _slips(read: Read, parts: Sequence[PartLine], how: How) -> list[str]:
    """What lies far from the readings on record, or from nominal, product by product."""
    groups: dict[tuple[str, str], tuple[Characteristic, list[float]]] = {}
    for part in parts:
        for line in part.lines:
            if line.characteristic is not None:
                key = (part.product, line.code)
                groups.setdefault(key, (line.characteristic, []))[1].extend(line.values)
    told = []
    for (product, code), (one, values) in groups.items():
        kind = KIND_OF_UNIT.get(one.unit)
        if kind is None or not one.nominal:
            continue  # about a nominal of nothing every size is possible
        expected = _population(read, product, code) or one.nominal
        used = how.chosen.units.get(code) or RECORD_UNIT[kind]
        slip = slip_of(values, expected, kind, used)
        told += [f"{product} {code}: {slip}"] if slip else []
    return told


def _population(read: Read, product: str, code: str) -> float | None:
    """Median of the latest readings of the characteristic; None with fewer than five."""
    query = (
        select(Reading.value)
        .where(
            Reading.site_id == read.site.id,
            Reading.product == product,
            Reading.characteristic == code,
            Reading.known_to_us == FOREVER_US,
            Reading.suspect.is_(None),
        )
        .order_by(Reading.at_us.desc())
        .limit(POPULATION)
    )
    values = [row.value for row in read.connection.execute(query)]
    return statistics.median(values) if len(values) >= 5 else None

"""The finished blades that a set can be built from, and why each of the others cannot."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import func, select

from ringwright.balance.pool import Blade
from ringwright.core.facts import Registry
from ringwright.db import FOREVER_US
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import fetch_entries
from ringwright.parts.facts import FACTS
from ringwright.parts.knowledge import fold
from ringwright.parts.state import RELEASED, Part
from ringwright.parts.tables import Life, PartNow, Reading, Visit
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import card_finder
from ringwright.sets.blades import changes, readings_of, role_of, why_suspect

UNITS: Final = {"moment": "g_mm", "tangential": "g_mm", "axial": "g_mm2", "frequency": "Hz",
                "mass": "g"}  # fmt: skip
"""What a set is computed in; a reading in another unit cannot enter one."""
CHUNK: Final = 500
_REGISTRY = Registry()
_REGISTRY.register(*FACTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockBlade:
    """A blade that is free for a set."""

    blade: Blade
    last_seq: int
    """The part's last entry, which a reservation checks."""
    whereabouts: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Excluded:
    """A finished blade that no set can take now, and why."""

    serial: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """The finished blades of a product that are still here, by serial."""

    blades: tuple[StockBlade, ...]
    excluded: tuple[Excluded, ...]


def read_stock(read: Read, product: str) -> Stock:
    """All released blades that have not been sent; as of a past moment as known then."""
    if read.as_of_us is not None:
        return _stock_then(read, product)
    return _stock_now(read, product)


def _stock_now(read: Read, product: str) -> Stock:
    rows = read.connection.execute(
        select(PartNow)
        .where(
            PartNow.site_id == read.site.id,
            PartNow.product == product,
            PartNow.place == RELEASED,
        )
        .order_by(PartNow.serial)
    ).all()
    values = _read_values(read, product, {row.serial: row.revision for row in rows})
    blades, excluded = [], []
    for row in rows:
        roles = values.get(row.serial, {})
        why = _why_not(row, roles)
        if why:
            excluded.append(Excluded(serial=row.serial, reason=why))
        else:
            blades.append(_free(row, roles))
    return Stock(blades=tuple(blades), excluded=tuple(excluded))


Roles = Mapping[str, tuple[float, str, float | None]]
Values = dict[str, dict[str, tuple[float, str, float | None]]]
"""Serial to role to (value, why it does not count, empty where it does; uncertainty)."""


def _read_values(read: Read, product: str, revisions: Mapping[str, str]) -> Values:
    """The last reading of each role of each blade; `revisions` is serial to revision."""
    find = card_finder(read.connection, read.site.id)
    serials, found = sorted(revisions), Values()
    # By serial, so that the work follows the stock and not the length of the record.
    for start in range(0, len(serials), CHUNK):
        chunk = serials[start : start + CHUNK]
        changed = _last_changes(read, chunk)
        for row in _readings(read, chunk):
            card = find(product, revisions[row.serial])
            role, why = _judged(card, row, changed.get(row.serial, ()))
            if role is not None:
                found.setdefault(row.serial, {})[role] = (row.value, why, row.uncertainty)
    return found


def _judged(
    card: RouteCard, row: Any, changed: Iterable[tuple[int, int]]
) -> tuple[str | None, str]:
    """The role of a reading, and why it does not count; empty where it does."""
    role = role_of(card, row.step, row.characteristic)
    if role is None:
        return None, ""
    if row.suspect is not None:
        return role, f"its {row.characteristic} is suspect: {row.suspect}"
    if row.unit != UNITS[role]:
        return role, f"its {row.characteristic} is read in {row.unit}, not in {UNITS[role]}"
    for number, at_step in changed:
        if number > row.visit and changes(card, at_step):
            return role, f"its {row.characteristic} lapsed at step {at_step}; read it again"
    return role, ""


def _readings(read: Read, serials: Sequence[str]) -> Iterable[Any]:
    query = (
        select(
            Reading.serial,
            Reading.visit,
            Reading.step,
            Reading.characteristic,
            Reading.value,
            Reading.unit,
            Reading.uncertainty,
            Reading.suspect,
        )
        .where(
            Reading.site_id == read.site.id,
            Reading.serial.in_(serials),
            Reading.known_to_us == FOREVER_US,
        )
        .order_by(Reading.serial, Reading.at_us, Reading.number)
    )
    return read.connection.execute(query)


def _last_changes(read: Read, serials: Sequence[str]) -> dict[str, list[tuple[int, int]]]:
    """Serial to (number, step) of the last visit at each step, in their order."""
    number = func.max(Visit.number).label("last")
    query = (
        select(Visit.serial, Visit.step, number)
        .where(
            Visit.site_id == read.site.id,
            Visit.serial.in_(serials),
            Visit.known_to_us == FOREVER_US,
            Visit.step.is_not(None),
        )
        .group_by(Visit.serial, Visit.step)
        .order_by(Visit.serial, number)
    )
    found: dict[str, list[tuple[int, int]]] = {}
    for serial, step, last in read.connection.execute(query):
        assert step is not None
        found.setdefault(serial, []).append((last, step))
    return found


def _why_not(row: Any, roles: Roles) -> str:
    if row.reservation is not None:
        return f"reserved for {row.reservation}"
    if row.hold is not None:
        return f"on hold: {row.hold}"
    if row.nonconformities:
        return "a nonconformity is open"
    for _, why, _ in roles.values():
        if why:
            return why
    return "" if "moment" in roles else "its moment was never read"


def _free(row: Any, roles: Roles) -> StockBlade:
    values = {role: value for role, (value, _, _) in roles.items()}
    blade = blade_of(row.serial, values, roles["moment"][2])
    return StockBlade(blade=blade, last_seq=row.last_seq, whereabouts=row.whereabouts)


def blade_of(
    serial: str, values: Mapping[str, float | None], moment_u_g_mm: float | None = None
) -> Blade:
    """A blade as the arithmetic takes it, from its readings by role."""
    moment = values["moment"]
    assert moment is not None
    return Blade(
        serial=serial,
        moment_g_mm=moment,
        tangential_g_mm=values.get("tangential") or 0.0,
        axial_g_mm2=values.get("axial"),
        mass_g=values.get("mass"),
        frequency_hz=values.get("frequency"),
        moment_u_g_mm=moment_u_g_mm,
    )


def _stock_then(read: Read, product: str) -> Stock:
    """The parts released by then and not sent, folded from what was known then."""
    query = (
        select(Life.serial)
        .where(
            Life.site_id == read.site.id,
            Life.product == product,
            Life.released_us.is_not(None),
            Life.released_known_us < read.known_before_us,
            Life.known_from_us < read.known_before_us,
            (Life.sent_us.is_(None)) | (Life.sent_us >= read.known_before_us),
        )
        .distinct()
    )
    serials = sorted(read.connection.execute(query).scalars())
    entries = fetch_entries(read.connection, _REGISTRY, read.site.id, "part", serials)
    find = card_finder(read.connection, read.site.id)
    blades, excluded = [], []
    for serial in serials:
        known = [e for e in entries.get(serial, []) if e.known_us < read.known_before_us]
        part = fold(serial, known, find)
        if part.card is None or part.place != RELEASED:
            continue
        readings, why = readings_of(part), _why_not_then(part)
        if why:
            excluded.append(Excluded(serial=serial, reason=why))
        else:
            sure = readings.uncertainties.get("moment")
            free = blade_of(serial, readings.values, sure)
            blades.append(StockBlade(blade=free, last_seq=part.last_seq))
    return Stock(blades=tuple(blades), excluded=tuple(excluded))


def _why_not_then(part: Part) -> str:
    if part.reservation is not None:
        return f"reserved for {part.reservation}"
    if part.open_hold is not None:
        return f"on hold: {part.open_hold.reason}"
    suspect = why_suspect(part)
    if suspect is not None:
        return suspect.removeprefix(f"{part.serial}: ").removeprefix(f"{part.serial} ")
    return "" if "moment" in readings_of(part).values else "its moment was never read"

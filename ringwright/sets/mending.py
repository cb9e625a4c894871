"""How a set that lacks blades can be mended: the table of moves from the stock."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from time import monotonic

from ringwright.balance.limits import Limits
from ringwright.balance.pool import Pool
from ringwright.balance.repair import Damage, Exchange, Move, repair
from ringwright.balance.work import Work
from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.sets.set_model import SetSheet
from ringwright.sets.stock import Stock

CEILING_S = 4.0


@dataclass(frozen=True, kw_only=True)
class Mending:
    """The table for one set, or why there is none."""

    lost: tuple[str, ...]
    pool: Pool
    rows: tuple[Move, ...]
    trouble: str
    """Why there is no table, in words that are translated; empty where there is one."""
    refused: str
    """Why the search gave none, as it said so."""
    loose: bool
    """True where the rotor's usual limits were left aside."""

    def slots(self, row: Move) -> tuple[str, ...]:
        """The serials of slot 1 … N after a move."""
        return self.pool.serials(row.order)

    def moved(self, row: Move) -> list[tuple[int, str, str]]:
        """(slot, blade that leaves, blade that comes) in the order it is done."""
        serial = [blade.serial for blade in self.pool.blades]
        return [(slot, serial[out], serial[came]) for slot, out, came in row.replaced]

    def exchanged(self, one: Exchange) -> str:
        """The spare that an exchange takes in; empty where two slots change."""
        return "" if one.spare is None else self.pool.blades[one.spare].serial


def mending_of(
    sheet: SetSheet, stock: Stock, lost: Iterable[str], *, loose: bool = False
) -> Mending:
    """What mends the set, from the free blades of the stock; what is fitted stays."""
    found = sheet.found
    gone = tuple(serial for serial in found.slots if serial in set(lost))
    spares = [one.blade for one in stock.blades]
    pool = Pool(blades=(*sheet.pool.blades, *spares))
    trouble = _trouble(sheet, gone, spares)
    refused, rows = ("", ()) if trouble else _rows(sheet, pool, gone, loose)
    return Mending(
        lost=gone, pool=pool, rows=rows, trouble=trouble, refused=refused, loose=loose
    )


def _trouble(sheet: SetSheet, gone: Sequence[str], spares: Sequence[object]) -> str:
    if not gone:
        return N_("Choose which blade is lost.")
    if len(sheet.pool) < len(sheet.found.slots):
        return N_("A blade of this set was never read: nothing can be computed.")
    if not spares:
        return N_("No blade is free in the stock.")
    if any(serial in sheet.found.fitted.values() for serial in gone):
        return N_("A blade that is fitted is taken out before another takes its place.")
    return ""


def _rows(
    sheet: SetSheet, pool: Pool, gone: Sequence[str], loose: bool
) -> tuple[str, tuple[Move, ...]]:
    slots = sheet.found.slots
    damage = Damage(
        ring=tuple(pool.places[serial] for serial in slots),
        lost=tuple(pool.places[serial] for serial in gone),
    )
    try:
        limits = _limits(sheet, loose)
        work = Work(clock=monotonic, seconds=CEILING_S)
        return "", repair(pool, damage, limits, work)
    except Refused as why:
        return why.message, ()


def _limits(sheet: SetSheet, loose: bool) -> Limits:
    """The rotor's usual limits; what is fitted is locked where it was planned and stands."""
    rotor, found = sheet.rotor, sheet.found
    locks = {
        slot: serial for slot, serial in found.fitted.items() if found.slots[slot - 1] == serial
    }
    if loose:
        return Limits(slots=len(found.slots), locks=locks)
    return Limits(
        slots=len(found.slots),
        locks=locks,
        frequency_spread_hz=rotor.frequency_spread_hz,
        moment_spread_g_mm=rotor.moment_spread_g_mm,
        neighbour_g_mm=rotor.neighbour_g_mm,
        opposite_g_mm=None if len(found.slots) % 2 else rotor.opposite_g_mm,
    )

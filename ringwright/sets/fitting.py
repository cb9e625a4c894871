"""What a scan means where a set is fitted: a slot to go on with, or the blade put into it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ringwright.sets.rules import BladeSet

SLOT = re.compile(r"^(?:S|SLOT)?[ :#-]?0*(\d{1,3})$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Scan:
    """A slot that was chosen, or a serial that was put into one."""

    slot: int | None = None
    serial: str = ""


def scan_of(found: BladeSet, text: str) -> Scan:
    """A blade of the set first: a serial of figures alone is no slot number."""
    scanned = text.strip()
    if scanned in found.slots:
        return Scan(serial=scanned)
    number = SLOT.match(scanned)
    if number and 1 <= int(number[1]) <= len(found.slots):
        return Scan(slot=int(number[1]))
    return Scan(serial=scanned)


def next_slot(found: BladeSet, asked: int | None) -> int | None:
    """The slot that is asked for, if it is empty; else the first empty one; None: all full."""
    empty = [slot for slot, there in enumerate(found.standing(), 1) if there is None]
    return asked if asked in empty else (empty[0] if empty else None)

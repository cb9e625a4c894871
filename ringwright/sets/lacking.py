"""Reserved sets with blades that no longer count, asked in one go."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select

from ringwright.ledger.service import Read
from ringwright.parts.tables import PartNow
from ringwright.sets.model import Lacking
from ringwright.sets.rules import FITTED, HANDED_OVER, RESERVED, BladeSet

WATCHED = frozenset({RESERVED, HANDED_OVER, FITTED})
COUNTS = frozenset({"released", "fitted", "sent"})


def lacking_sets(read: Read, sets: Sequence[BladeSet]) -> tuple[Lacking, ...]:
    """Sets that lack a blade, those that lack most first."""
    watched = [one for one in sets if one.state in WATCHED]
    whys = lacking_of(read, [serial for one in watched for serial in one.slots])
    found = []
    for one in watched:
        slots = [slot for slot, serial in enumerate(one.slots, 1) if serial in whys]
        if slots:
            first = one.slots[slots[0] - 1]
            found.append(Lacking(code=one.code, slots=tuple(slots), why=whys[first]))
    return tuple(sorted(found, key=lambda one: (-len(one.slots), one.code)))


def lacking_of(read: Read, serials: Sequence[str]) -> dict[str, str]:
    """Serial to why the blade does not count, of those that do not.

    Told of the present only: of a past moment nothing is claimed.
    """
    if read.as_of_us is not None:
        return {}
    found: dict[str, str] = {}
    for start in range(0, len(serials), 500):
        query = select(
            PartNow.serial, PartNow.place, PartNow.hold, PartNow.nonconformities
        ).where(
            PartNow.site_id == read.site.id,
            PartNow.serial.in_(serials[start : start + 500]),
        )
        for row in read.connection.execute(query):
            why = _why(row.place, row.hold, row.nonconformities)
            if why:
                found[row.serial] = f"{row.serial} {why}"
    return found


def _why(place: str, hold: str | None, nonconformities: int) -> str:
    if place not in COUNTS:
        return f"is {place}"
    if hold is not None:
        return f"is on hold: {hold}"
    return "has an open nonconformity" if nonconformities else ""

"""Book what a scale wrote: all parts of a file, or none."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.bench.authorised import check_authorised
from ringwright.bench.reading import Readings, Taken, enter
from ringwright.bench.service import open_desk
from ringwright.core.errors import Missing, Refused
from ringwright.core.fields import as_data
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Draft, Tx
from ringwright.people.allowing import allows
from ringwright.sites.facts import GaugeFileMapped, GaugeSet
from ringwright.sites.gauging import KIND


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What a file says of one part: a characteristic's repeats, with what was set aside."""

    serial: str
    taken: dict[str, Taken]


@dataclass(frozen=True, slots=True, kw_only=True)
class BookWeighings:
    """Readings of many parts that one gauge wrote into a file, and how its columns stand."""

    operation: ClassVar[str] = "book weighings"
    gauge: str
    parts: tuple[Weighed, ...]
    signature: str
    columns: dict[str, str]
    units: dict[str, str]
    station: str = ""

    @property
    def key(self) -> str:
        """Made from the content: the same file again is the same booking."""
        told = json.dumps(self.body(), sort_keys=True).encode()
        return f"weighings-{hashlib.sha256(told).hexdigest()[:40]}"

    def body(self) -> Any:
        """Gauge and readings; how the columns stood does not make another booking."""
        return [
            self.gauge,
            [
                [one.serial, {code: as_data(taken) for code, taken in one.taken.items()}]
                for one in self.parts
            ],
        ]

    def subject(self) -> str:
        """The gauge's code."""
        return self.gauge


def book_weighings(tx: Tx, command: BookWeighings) -> dict[str, Any]:
    """Record every part's readings; raises Refused naming the part whose readings cannot be."""
    if not command.parts:
        raise Refused("no part of the file can be booked")
    count = sum(_book(tx, command, one) for one in command.parts)
    _remember(tx, command)
    return {"gauge": command.gauge, "parts": len(command.parts), "readings": count}


def _book(tx: Tx, command: BookWeighings, one: Weighed) -> int:
    desk = open_desk(tx, one.serial)
    if desk.part.card is None:
        raise Missing(f"there is no part {one.serial}")
    visit = desk.part.open_visit
    if visit is None or visit.step is None:
        raise Refused(f"{one.serial} has no open visit; it is {desk.part.place}")
    check_authorised(tx, desk.part, visit.step, (tx.actor.code,), None)
    given = Readings(taken=one.taken, gauge=command.gauge, station=command.station)
    try:
        enter(desk, visit.step, given)
    except Refused as refusal:
        raise Refused(f"{one.serial}: {refusal.message}", code=refusal.code) from None
    return len(one.taken)


def _remember(tx: Tx, command: BookWeighings) -> None:
    history = tx.history(KIND, command.gauge)
    if not any(entry.kind == GaugeSet.kind for entry in history):
        return
    fact = GaugeFileMapped(
        signature=command.signature, columns=command.columns, units=command.units
    )
    known = [entry.data for entry in history if entry.kind == GaugeFileMapped.kind]
    same = [data for data in known if data["signature"] == command.signature]
    if not same or same[-1] != fact.payload():
        tx.append(Draft(fact=fact, subject=command.gauge, at_us=tx.now_us), history)


def remembered(entries: Sequence[Any], signature: str) -> dict[str, Any] | None:
    """How a file with this heading was read last, of a gauge's facts; None if never."""
    found = [
        entry.data
        for entry in entries
        if entry.kind == GaugeFileMapped.kind and entry.data["signature"] == signature
    ]
    return found[-1] if found else None


HANDLINGS: dict[type, Handling] = {
    BookWeighings: Handling(book_weighings, allows("measure")),
}

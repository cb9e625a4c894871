"""Parts, looked up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select

from ringwright.core.errors import Missing, Refused
from ringwright.core.facts import Registry
from ringwright.core.practice import serial_of
from ringwright.ledger.service import Read
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import Site, fetch_entries
from ringwright.parts.facts import FACTS
from ringwright.parts.knowledge import fold
from ringwright.parts.state import Part
from ringwright.parts.tables import PartMark, PartNow
from ringwright.routecards.queries import card_finder

_REGISTRY = Registry()
_REGISTRY.register(*FACTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartCard:
    """Where a part stands now, as every page shows it."""

    serial: str
    product: str
    revision: str
    place: str
    step: int | None
    since_us: int
    paused: bool
    hold: str | None
    nonconformities: int
    whereabouts: str | None
    mark: str | None
    kept: str | None
    lot: str | None
    priority: int
    sought: bool
    reservation: str | None
    last_seq: int


def resolve_serial(connection: Connection, site: Site, text: str) -> str:
    """The serial a part is recorded under, from any mark it bears or from its label.

    A serial that was never marked anew is its own. Raises Refused for a retired mark, and for
    a practice label at a real site.
    """
    serial, site_id = serial_of(text, practice=site.practice_of is not None), site.id
    query = select(PartMark).where(PartMark.site_id == site_id, PartMark.mark == serial)
    rows = connection.execute(query).all()
    current = [row for row in rows if not row.retired]
    if current:
        return str(current[0].serial)
    if rows:
        bears = connection.execute(
            select(PartMark.mark).where(
                PartMark.site_id == site_id,
                PartMark.serial == rows[0].serial,
                PartMark.retired.is_(False),
            )
        ).scalar()
        raise Refused(f"mark {serial} is retired; the part bears {bears} now, scan that")
    return serial


def read_part(read: Read, serial: str) -> PartCard:
    """One part by serial or mark; raises Missing."""
    subject = resolve_serial(read.connection, read.site, serial)
    if read.as_of_us is not None:
        return _as_known(read, subject)
    row = read.connection.execute(
        select(PartNow).where(PartNow.site_id == read.site.id, PartNow.serial == subject)
    ).first()
    if row is None:
        raise Missing(f"there is no part {serial} at {read.site.name or read.site.code}")
    return _card(row)


def read_folded(read: Read, serial: str) -> Part:
    """The part folded from what was known before the moment asked about.

    One that was not there by then has no card.
    """
    found = fetch_entries(read.connection, _REGISTRY, read.site.id, "part", [serial])
    known = [entry for entry in found.get(serial, []) if entry.known_us < read.known_before_us]
    return fold(serial, known, card_finder(read.connection, read.site.id))


def _as_known(read: Read, serial: str) -> PartCard:
    part = read_folded(read, serial)
    if part.card is None:
        raise Missing(f"there was no part {serial} at that time")
    hold = part.open_hold
    return PartCard(
        serial=serial,
        product=part.card.product,
        revision=part.card.revision,
        place=part.place,
        step=part.step,
        since_us=part.visits[-1].begin_us if part.open_visit else part.visits[-1].end_us,
        paused=part.paused_since_us is not None,
        hold=hold.reason if hold else None,
        nonconformities=len(part.open_nonconformities),
        whereabouts=part.whereabouts,
        mark=part.mark,
        kept=part.kept,
        lot=part.lot,
        priority=part.priority,
        sought=part.sought,
        reservation=part.reservation,
        last_seq=part.last_seq,
    )


def _card(row: Any) -> PartCard:
    fields = {name: getattr(row, name) for name in PartCard.__dataclass_fields__}
    return PartCard(**fields)


def read_events(read: Read, serial: str) -> Sequence[Any]:
    """All events of a part in ledger order, with the key each was booked with."""
    query = (
        select(
            Event.site_seq,
            Event.key,
            Event.kind,
            Event.subject,
            Event.payload,
            Event.at_us,
            Event.actor,
            Event.approver,
            Event.station,
            Event.corrects,
            Event.known_at_us,
            Event.recorded_at_us,
        )
        .where(
            Event.site_id == read.site.id,
            Event.subject_kind == "part",
            Event.subject == serial,
            Event.known_at_us < read.known_before_us,
        )
        .order_by(Event.site_seq)
    )
    return read.connection.execute(query).all()

"""Where parts stand, now or as known at a past moment: place, step, hold, containments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from sqlalchemy import and_, select

from ringwright.core.facts import Registry
from ringwright.db import FOREVER_US
from ringwright.flow.queries import believed
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import fetch_entries
from ringwright.parts.facts import FACTS
from ringwright.parts.knowledge import fold
from ringwright.parts.reserving import IN_SLOT, RESERVATION
from ringwright.parts.state import Part
from ringwright.parts.tables import Condition, Life, PartNow
from ringwright.routecards.queries import card_finder
from ringwright.sites.tables import CarrierStay
from ringwright.trace.queries import chunks

CONTAINMENT: Final = "containment"
NOTICE: Final = "notice"
_REGISTRY = Registry()
_REGISTRY.register(*FACTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One part as it stands: where it is, whether it is held, who was told of it."""

    serial: str
    product: str
    revision: str
    place: str
    step: int | None
    hold: str | None
    whereabouts: str | None
    lot: str | None
    last_seq: int
    nonconformities: int = 0
    scrapped_us: int | None = None
    scrapped_at: int | None = None
    """The step it was found fit for scrap at."""
    sent_us: int | None = None
    reserved: str | None = None
    """The set it is kept for, or stands in."""
    slot: str | None = None
    """Its slot there, where it is fitted."""
    carrier_at: str | None = None
    """Where the container stands that it lies in."""
    contained: tuple[str, ...] = ()
    """Codes of its open containments."""
    open_notices: tuple[str, ...] = ()
    told: tuple[tuple[str, str], ...] = field(default=())
    """(code, addressee) of the notices that were sent."""


def read_standings(read: Read, serials: Sequence[str]) -> dict[str, Standing]:
    """Each of these parts as it stands; those that did not exist then are absent."""
    found: dict[str, Standing] = {}
    for piece in chunks(serials):
        some = _now(read, piece) if read.as_of_us is None else _as_known(read, piece)
        found.update(some)
    return _carried(read, found)


def _now(read: Read, serials: Sequence[str]) -> dict[str, Standing]:
    query = (
        select(PartNow, Life.scrapped_us, Life.found_step, Life.sent_us)
        .join(Life, and_(Life.site_id == PartNow.site_id, Life.serial == PartNow.serial))
        .where(PartNow.site_id == read.site.id, PartNow.serial.in_(serials))
        .where(believed(read, Life))
    )
    conditions = _conditions(read, serials)
    return {
        row.serial: _with_conditions(_standing(row), conditions.get(row.serial, ()))
        for row in read.connection.execute(query)
    }


def _standing(row: Any) -> Standing:
    return Standing(
        serial=row.serial,
        product=row.product,
        revision=row.revision,
        place=row.place,
        step=row.step,
        hold=row.hold,
        whereabouts=row.whereabouts,
        lot=row.lot,
        last_seq=row.last_seq,
        nonconformities=row.nonconformities,
        scrapped_us=row.scrapped_us,
        scrapped_at=row.found_step,
        sent_us=row.sent_us,
    )


def _conditions(read: Read, serials: Sequence[str]) -> dict[str, list[Any]]:
    query = (
        select(
            Condition.serial, Condition.kind, Condition.value, Condition.note, Condition.to_us
        )
        .where(
            believed(read, Condition),
            Condition.serial.in_(serials),
            Condition.kind.in_((CONTAINMENT, NOTICE, RESERVATION, IN_SLOT)),
        )
        .order_by(Condition.serial, Condition.number)
    )
    found: dict[str, list[Any]] = {}
    for row in read.connection.execute(query):
        found.setdefault(row.serial, []).append(row)
    return found


def _with_conditions(standing: Standing, rows: Sequence[Any]) -> Standing:
    open_ = [(row.kind, row.value) for row in rows if row.to_us == FOREVER_US]
    kept = {row.kind: row for row in rows if row.to_us == FOREVER_US}
    told = [(row.value, row.note) for row in rows if row.kind == NOTICE and row.note]
    return replace(
        standing,
        contained=tuple(value for kind, value in open_ if kind == CONTAINMENT),
        open_notices=tuple(value for kind, value in open_ if kind == NOTICE),
        told=tuple(told),
        reserved=kept[RESERVATION].value if RESERVATION in kept else None,
        slot=kept[IN_SLOT].note if IN_SLOT in kept else None,
    )


def _as_known(read: Read, serials: Sequence[str]) -> dict[str, Standing]:
    """Each part folded from what was known before the moment asked about."""
    find = card_finder(read.connection, read.site.id)
    found = fetch_entries(read.connection, _REGISTRY, read.site.id, "part", serials)
    standings = {}
    for serial, entries in found.items():
        known = [entry for entry in entries if entry.known_us < read.known_before_us]
        part = fold(serial, known, find)
        if part.card is not None:
            standings[serial] = standing_of(part)
    return standings


def standing_of(part: Part) -> Standing:
    """A folded part as a standing."""
    hold, life, card = part.open_hold, part.life, part.route
    standing = Standing(
        serial=part.serial,
        product=card.product,
        revision=card.revision,
        place=part.place,
        step=part.step,
        hold=hold.reason if hold else None,
        whereabouts=part.whereabouts,
        lot=part.lot,
        last_seq=part.last_seq,
        nonconformities=len(part.open_nonconformities),
        scrapped_us=life.scrapped_us,
        scrapped_at=life.found_step,
        sent_us=life.sent_us,
    )
    return _with_conditions(standing, part.conditions)


def _carried(read: Read, found: dict[str, Standing]) -> dict[str, Standing]:
    """What lies in a container or trolley is where that stands."""
    codes = sorted({one.whereabouts for one in found.values() if one.whereabouts})
    places: dict[str, str] = {}
    at = read.known_before_us
    for piece in chunks(codes):
        query = select(CarrierStay.code, CarrierStay.place).where(
            CarrierStay.site_id == read.site.id,
            CarrierStay.code.in_(piece),
            CarrierStay.from_known_us < at,
            CarrierStay.to_known_us >= at,
        )
        places.update((row.code, row.place) for row in read.connection.execute(query))
    return {
        serial: replace(one, carrier_at=places.get(one.whereabouts or ""))
        for serial, one in found.items()
    }

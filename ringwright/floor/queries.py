"""The floor at one moment as SELECTs over projections, portable to both stores.

Only rows that are open at the moment are looked at: the work grows with the parts standing, not
with what the record holds. A question about the past counts what was known by then.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from sqlalchemy import ColumnElement, and_, case, func, or_, select

from ringwright.db import FOREVER_US
from ringwright.flow.queries import Sql, believed, instant_then, there_at
from ringwright.ledger.service import Read
from ringwright.parts.conditions import PRIORITY, SEARCH, WHEREABOUTS
from ringwright.parts.reserving import RESERVATION
from ringwright.parts.tables import Condition, Hold, PartNow, Visit
from ringwright.sites.tables import CarrierStay, Shutting, StationNow


def _open_at(read: Read, row: Any, at_us: int) -> ColumnElement[bool]:
    """True for a span of time that had begun before the instant and was not over by then."""
    begun = instant_then(read, row.from_us, row.from_known_us) < at_us
    return and_(begun, instant_then(read, row.to_us, row.to_known_us) >= at_us)


class _Floor:
    """Visits that say where a part stands at an instant; events at the instant do not count."""

    def __init__(self, read: Read, at_us: int, product: str | None) -> None:
        begin = instant_then(read, Visit.begin_us, Visit.begin_known_us)
        end = instant_then(read, Visit.end_us, Visit.end_known_us)
        self.in_work = end >= at_us
        self.step = case((self.in_work, Visit.step), else_=Visit.next_step)
        self.since = case((self.in_work, begin), else_=end)
        self.there: list[ColumnElement[bool]] = [
            believed(read, Visit),
            there_at(read, at_us),
            self.step.is_not(None),
        ]
        # Not the bare column, whose index tempts: most of a product's visits are long over.
        self.product = Visit.product.concat("")
        if product is not None:
            self.there.append(self.product == product)


def standing_parts(read: Read, at_us: int, product: str | None) -> Sql:
    """Parts created and not gone, at the step they are in work at, else the one awaited."""
    floor = _Floor(read, at_us, product)
    return select(
        Visit.serial,
        Visit.product,
        Visit.revision,
        floor.step.label("step"),
        case((floor.in_work, 1), else_=0).label("in_work"),
        floor.since.label("since_us"),
        Visit.station,
        case((floor.in_work, Visit.actor), else_=Visit.ended_by).label("touched_by"),
        Visit.part_lot,
        Visit.lot,
    ).where(*floor.there)


def standing_counts(read: Read, at_us: int) -> Sql:
    """Parts standing on the floor, by product."""
    floor = _Floor(read, at_us, None)
    return (
        select(floor.product.label("product"), func.count().label("parts"))
        .where(*floor.there)
        .group_by(floor.product)
    )


def standing_serials(read: Read, at_us: int, product: str | None) -> Any:
    """The serials of the parts that stand on the floor."""
    return select(Visit.serial).where(*_Floor(read, at_us, product).there)


def open_holds(read: Read, at_us: int, product: str | None) -> Sql:
    """Why a standing part must not move."""
    return select(Hold.serial, Hold.reason).where(
        believed(read, Hold),
        _open_at(read, Hold, at_us),
        Hold.serial.in_(standing_serials(read, at_us, product)),
    )


def open_conditions(read: Read, at_us: int, product: str | None) -> Sql:
    """Priorities, searches, whereabouts and reservations of the standing parts."""
    # By serial, not by kind: the whereabouts of parts long gone stay open for ever.
    kind = Condition.kind.concat("")
    return select(Condition.serial, Condition.kind, Condition.value, Condition.note).where(
        believed(read, Condition),
        kind.in_((PRIORITY, SEARCH, WHEREABOUTS, RESERVATION)),
        _open_at(read, Condition, at_us),
        Condition.serial.in_(standing_serials(read, at_us, product)),
    )


def visits_of_loads(read: Read, at_us: int, stations: Collection[str], since_us: int) -> Sql:
    """Visits at some stations that were in work since an instant."""
    begin = instant_then(read, Visit.begin_us, Visit.begin_known_us)
    end = instant_then(read, Visit.end_us, Visit.end_known_us)
    return select(
        Visit.serial,
        Visit.step,
        Visit.station,
        Visit.run,
        begin.label("begin_us"),
        end.label("end_us"),
    ).where(
        believed(read, Visit),
        Visit.station.in_(list(stations)),
        # What ended later than it was known to end is looked at too: its end is then open.
        or_(Visit.end_us >= since_us, Visit.end_known_us >= since_us)
        if read.as_of_us is not None
        else Visit.end_us >= since_us,
        begin < at_us,
        Visit.step.is_not(None),
    )


def carrier_stays(read: Read, at_us: int) -> Sql:
    """Where each container and trolley stands."""
    return select(CarrierStay.code, CarrierStay.place).where(
        CarrierStay.site_id == read.site.id, _open_at(read, CarrierStay, at_us)
    )


def shut_things(read: Read, at_us: int) -> Sql:
    """What is shut, since when, why, and who may open it."""
    return (
        select(
            Shutting.subject,
            Shutting.kind,
            Shutting.code,
            Shutting.reason,
            Shutting.opener,
            Shutting.from_us,
            Shutting.actor,
        )
        .where(Shutting.site_id == read.site.id, _open_at(read, Shutting, at_us))
        .order_by(Shutting.from_us, Shutting.subject)
    )


def place_known(read: Read, code: str) -> Sql:
    """Whether anything was ever put at a place of that code."""
    lain = (
        select(Condition.serial)
        .where(
            Condition.site_id == read.site.id,
            Condition.kind == WHEREABOUTS,
            Condition.value == code,
        )
        .exists()
    )
    stood = (
        select(CarrierStay.code)
        .where(CarrierStay.site_id == read.site.id, CarrierStay.place == code)
        .exists()
    )
    carrier = (
        select(CarrierStay.code)
        .where(CarrierStay.site_id == read.site.id, CarrierStay.code == code)
        .exists()
    )
    station = (
        select(StationNow.code)
        .where(StationNow.site_id == read.site.id, StationNow.code == code)
        .exists()
    )
    return select(
        lain.label("lain"),
        stood.label("stood"),
        carrier.label("carrier"),
        station.label("station"),
    )


def any_part(read: Read) -> Sql:
    """One part of the site, whichever; none while nothing was created."""
    return select(PartNow.serial).where(PartNow.site_id == read.site.id).limit(1)


def carrier_stays_now(site_id: int) -> Sql:
    """Where each container and trolley stands now."""
    return select(CarrierStay.code, CarrierStay.place).where(
        CarrierStay.site_id == site_id, CarrierStay.to_us == FOREVER_US
    )


def stays_of(site_id: int, code: str) -> Sql:
    """The places of one container or trolley, the present one first."""
    return (
        select(CarrierStay.place, CarrierStay.from_us, CarrierStay.actor)
        .where(CarrierStay.site_id == site_id, CarrierStay.code == code)
        .order_by(CarrierStay.from_us.desc())
        .limit(1)
    )

"""What the acts of a week are read from: parts where they stand, idle groups, free blades."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from sqlalchemy import and_, case, func, select

from ringwright.flow.queries import Sql, believed, instant_then, there_at
from ringwright.ledger.service import Read
from ringwright.parts.state import RELEASED
from ringwright.parts.tables import Hold, PartNow, Visit
from ringwright.sites.tables import GaugeCalibration, GaugeNow, Shutting


def _there(read: Read, products: Collection[str], at_us: int) -> tuple[Any, ...]:
    begin = instant_then(read, Visit.begin_us, Visit.begin_known_us)
    end = instant_then(read, Visit.end_us, Visit.end_known_us)
    in_work = end >= at_us
    step = case((in_work, Visit.step), else_=Visit.next_step)
    # Not the bare column, whose index tempts: most of a product's visits are long over.
    product = Visit.product.concat("")
    where = (
        believed(read, Visit),
        there_at(read, at_us),
        product.in_(list(products)),
        step.is_not(None),
    )
    return in_work, step, case((in_work, begin), else_=end), where


def standing_parts(read: Read, products: Collection[str], at_us: int) -> Sql:
    """Every part of the products that stands at a step at an instant, with its last entry."""
    in_work, step, since, where = _there(read, products, at_us)
    return (
        select(
            Visit.serial,
            Visit.product,
            Visit.revision,
            step.label("step"),
            case((in_work, 1), else_=0).label("in_work"),
            since.label("since_us"),
            PartNow.priority,
            PartNow.last_seq,
        )
        .join(PartNow, and_(PartNow.site_id == Visit.site_id, PartNow.serial == Visit.serial))
        .where(*where)
    )


def standing_serials(read: Read, products: Collection[str], at_us: int) -> Sql:
    """Their serials alone."""
    return select(Visit.serial).where(*_there(read, products, at_us)[3])


def held_parts(read: Read, products: Collection[str], at_us: int) -> Sql:
    """Why and since when standing parts are on hold."""
    begun = instant_then(read, Hold.from_us, Hold.from_known_us)
    return select(Hold.serial, Hold.reason, Hold.from_us).where(
        believed(read, Hold),
        begun < at_us,
        instant_then(read, Hold.to_us, Hold.to_known_us) >= at_us,
        Hold.serial.in_(standing_serials(read, products, at_us)),
    )


def last_work(read: Read, stations: Collection[str], since_us: int, at_us: int) -> Sql:
    """When work last ended at each of these stations, between two instants."""
    end = instant_then(read, Visit.end_us, Visit.end_known_us)
    return (
        select(Visit.station, func.max(end).label("end_us"))
        .where(
            believed(read, Visit),
            Visit.station.in_(list(stations)),
            Visit.end_us >= since_us,
            Visit.end_us < at_us,
            end < at_us,
        )
        .group_by(Visit.station)
    )


def shut_stations(read: Read, at_us: int) -> Sql:
    """Stations that are shut at an instant."""
    return select(Shutting.code).where(
        Shutting.site_id == read.site.id,
        Shutting.kind == "station",
        instant_then(read, Shutting.from_us, Shutting.from_known_us) < at_us,
        instant_then(read, Shutting.to_us, Shutting.to_known_us) >= at_us,
    )


def free_blades(read: Read, products: Collection[str]) -> Sql:
    """Finished blades now that nothing keeps: not reserved, held or stopped."""
    return (
        select(PartNow.product, func.count().label("free"))
        .where(
            PartNow.site_id == read.site.id,
            PartNow.product.in_(list(products)),
            PartNow.place == RELEASED,
            PartNow.reservation.is_(None),
            PartNow.hold.is_(None),
            PartNow.nonconformities == 0,
        )
        .group_by(PartNow.product)
    )


def gauges_due(read: Read) -> Sql:
    """Every calibration of the gauges on the register, the latest of each last."""
    row = GaugeCalibration
    return (
        select(GaugeNow.code, GaugeNow.kind, GaugeNow.data, row.due_on, row.good)
        .join(row, and_(row.site_id == GaugeNow.site_id, row.code == GaugeNow.code))
        .where(GaugeNow.site_id == read.site.id, row.known_us < read.known_before_us)
        .order_by(GaugeNow.code, row.calibrated_on, row.number)
    )

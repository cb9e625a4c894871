"""What a forecast is made from, as SELECTs: visits, releases, holds and hours of begins.

Everything happened before the moment and was known before it; what had not ended by then is
open, whatever the record says since.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import and_, case, func, or_, select

from ringwright.db import FOREVER_US
from ringwright.flow.queries import Sql, believed, instant_then
from ringwright.ledger.service import Read
from ringwright.outlook.worked import SLOT_US
from ringwright.parts.tables import Hold, Life, Visit


def _before(read: Read, instant: Any, known_us: Any, at_us: int) -> Any:
    """A moment of a row where it lies before the instant, else the end of time."""
    then = instant_then(read, instant, known_us)
    return case((then < at_us, then), else_=FOREVER_US)


def visits_before(read: Read, product: str, since_us: int, at_us: int) -> Sql:
    """Visits and waits of a product begun before an instant and not left long before it."""
    end = _before(read, Visit.end_us, Visit.end_known_us, at_us)
    told_late = and_(
        Visit.leave_known_us > Visit.leave_us, Visit.leave_known_us >= read.known_before_us
    )
    return select(
        Visit.serial,
        Visit.number,
        Visit.step,
        Visit.begin_us,
        end.label("end_us"),
        _before(read, Visit.leave_us, Visit.leave_known_us, at_us).label("leave_us"),
        case((end < FOREVER_US, Visit.next_step)).label("goes_to"),
    ).where(
        believed(read, Visit),
        Visit.product == product,
        instant_then(read, Visit.begin_us, Visit.begin_known_us) < at_us,
        or_(Visit.leave_us >= since_us, told_late),
    )


def releases_before(read: Read, product: str, since_us: int, at_us: int) -> Sql:
    """Serial and instant [us] of the releases of a product in a span."""
    return select(Life.serial, Life.released_us).where(
        believed(read, Life),
        Life.product == product,
        Life.released_us >= since_us,
        Life.released_us < at_us,
        Life.released_known_us < read.known_before_us,
    )


def holds_before(read: Read, product: str, since_us: int, at_us: int) -> Sql:
    """Holds on parts of a product that began before an instant and lasted into the span."""
    # Asked hold by hold: a list of the parts of a product is one of all that ever were.
    of_product = (
        select(Life.serial)
        .where(
            Life.site_id == Hold.site_id,
            Life.serial == Hold.serial,
            Life.product.concat("") == product,
        )
        .exists()
    )
    to_us = _before(read, Hold.to_us, Hold.to_known_us, at_us)
    return select(Hold.serial, Hold.from_us, to_us.label("to_us")).where(
        believed(read, Hold),
        instant_then(read, Hold.from_us, Hold.from_known_us) < at_us,
        Hold.to_us >= since_us,
        of_product,
    )


def begins_by_half_hour(read: Read, since_us: int, at_us: int) -> Sql:
    """How many visits of the whole site began in each half hour of a span."""
    begin = instant_then(read, Visit.begin_us, Visit.begin_known_us)
    slot = Visit.begin_us - Visit.begin_us % SLOT_US
    return (
        select(slot.label("slot_us"), func.count().label("begun"))
        .where(
            believed(read, Visit),
            Visit.step.is_not(None),
            Visit.begin_us >= since_us,
            begin < at_us,
        )
        .group_by(slot)
    )

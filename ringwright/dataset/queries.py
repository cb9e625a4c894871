"""What the data set holds of a site's parts, visits and readings, as SELECTs of one snapshot.

Only what was believed as of the snapshot's moment, and of that only instants known by then: a
visit whose end was not known yet has none. Rows come in the order of their main instant, the
first column, by which they are laid into months. Open ends are FOREVER_US, as in the store.
"""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import ColumnElement, Select, and_, case, select

from ringwright.db import FOREVER_US
from ringwright.flow.queries import believed, instant_then
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Reading, Visit

Sql = Select[*tuple[Any, ...]]

PART_COLUMNS: Final = (
    *("serial", "product", "revision", "lot", "created_at", "released_at", "scrapped_at"),
    *("used_at", "sent_at", "cycle_us", "scrap_defect", "scrap_place", "found_step"),
    "caused_step",
)
VISIT_COLUMNS: Final = (
    *("serial", "visit", "product", "revision", "step", "first", "begin_at", "end_at"),
    *("outcome", "defect", "rework_card", "touch_us", "queue_us", "pause_us", "next_step"),
    *("leave_at", "skipped", "station", "lot", "part_lot", "run", "by", "ended_by"),
)
READING_COLUMNS: Final = (
    *("serial", "reading", "visit", "product", "step", "characteristic", "at", "value"),
    *("unit", "inside", "uncertainty", "repeats", "gauge", "suspect", "by"),
)


def _known(read: Read, known_us: Any) -> ColumnElement[bool]:
    """True for an instant that was known before the snapshot's moment."""
    return known_us < read.known_before_us  # type: ignore[no-any-return]


def parts(read: Read) -> Sql:
    """When each part came and how it went; the first column is its creation [us]."""
    released = and_(Life.released_us.is_not(None), _known(read, Life.released_known_us))
    scrapped = and_(Life.scrapped_us.is_not(None), _known(read, Life.scrapped_known_us))
    used = and_(Life.used_us.is_not(None), _known(read, Life.used_known_us))
    columns = (
        *(Life.serial, Life.product, Life.revision, Life.lot, Life.created_us),
        case((released, Life.released_us)),
        case((scrapped, Life.scrapped_us)),
        case((used, Life.used_us)),
        case((Life.sent_us < read.known_before_us, Life.sent_us)),
        case((released, Life.released_us - Life.created_us)),
        *(
            case((scrapped, column))
            for column in (
                *(Life.scrap_defect, Life.scrap_place, Life.found_step, Life.caused_step),
            )
        ),
    )
    return (
        select(Life.created_us.label("main"), *_named(PART_COLUMNS, columns))
        .where(believed(read, Life), _known(read, Life.created_known_us))
        .order_by(Life.created_us, Life.serial)
    )


def visits(read: Read) -> Sql:
    """Each pass through a step; the first column is its begin [us].

    The row without a step is the part's arrival, which says what it waits for first.
    """
    end = instant_then(read, Visit.end_us, Visit.end_known_us)
    ended = end != FOREVER_US
    after = (Visit.outcome, Visit.defect, Visit.card, Visit.touch_us)
    columns = (
        *(Visit.serial, Visit.number, Visit.product, Visit.revision, Visit.step, Visit.first),
        *(Visit.begin_us, end),
        *(case((ended, column)) for column in after),
        *(Visit.queue_us, Visit.pause_us, case((ended, Visit.next_step))),
        instant_then(read, Visit.leave_us, Visit.leave_known_us),
        *(Visit.skipped, Visit.station, Visit.lot, Visit.part_lot, Visit.run, Visit.actor),
        case((ended, Visit.ended_by)),
    )
    return (
        select(Visit.begin_us.label("main"), *_named(VISIT_COLUMNS, columns))
        .where(believed(read, Visit), _known(read, Visit.begin_known_us))
        .order_by(Visit.begin_us, Visit.serial, Visit.number)
    )


def readings(read: Read) -> Sql:
    """Each reading; the first column is when it was taken [us]."""
    columns = (
        *(Reading.serial, Reading.number, Reading.visit, Reading.product, Reading.step),
        *(Reading.characteristic, Reading.at_us, Reading.value, Reading.unit, Reading.inside),
        *(Reading.uncertainty, Reading.repeats, Reading.gauge, Reading.suspect, Reading.actor),
    )
    return (
        select(Reading.at_us.label("main"), *_named(READING_COLUMNS, columns))
        .where(believed(read, Reading), _known(read, Reading.at_known_us))
        .order_by(Reading.at_us, Reading.serial, Reading.number)
    )


def _named(names: tuple[str, ...], columns: tuple[Any, ...]) -> list[Any]:
    return [column.label(name) for name, column in zip(names, columns, strict=True)]

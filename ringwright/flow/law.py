"""Little's law over the last weeks, exact at both ends."""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import and_, case, func, select, union_all

from ringwright.db import FOREVER_US
from ringwright.flow.model import LittlesLaw
from ringwright.flow.queries import HOUR_US, Sql, Window, believed, there_at
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Visit

DAY_US: Final = 24 * HOUR_US
LAW_WEEKS: Final = 8
NO_EXITS: Final = LittlesLaw(weeks=LAW_WEEKS, mean_wip=None, exits_per_day=None, mean_days=None)


def read_laws(read: Read, products: tuple[str, ...], at_us: int) -> dict[str, LittlesLaw]:
    """Mean parts in the cell, exits a day and mean days of the exits, by product that has any.

    Over a finite window the identity holds when each exit's time is counted within the window
    and the parts still there are added in; the whole time of the exits is what is compared.
    """
    window = Window(products=products, start_us=at_us - LAW_WEEKS * 7 * DAY_US, end_us=at_us)
    rows = read.connection.execute(time_in_cell(read, window))
    return {row.product: _law(row, window) for row in rows if row.exits}


def _law(row: Any, window: Window) -> LittlesLaw:
    span_us, exits = window.end_us - window.start_us, int(row.exits)
    return LittlesLaw(
        weeks=LAW_WEEKS,
        mean_wip=float(row.part_time) / span_us,
        exits_per_day=exits / (span_us / DAY_US),
        mean_days=float(row.exit_time) / exits / DAY_US,
    )


def time_in_cell(read: Read, window: Window) -> Sql:
    """For Little's law: part-time spent in the cell within the window, and the exits in it with
    their whole time in the cell [us]. A part leaves by release, scrap or use."""
    lives = union_all(_came_within(read, window), _there_before(read, window)).subquery()
    came, gone = lives.c.came, lives.c.left
    start = case((came > window.start_us, came), else_=window.start_us)
    end = case((gone < window.end_us, gone), else_=window.end_us)
    exits = and_(gone >= window.start_us, gone < window.end_us)
    return (
        select(
            lives.c.product,
            func.sum((end - start) * 1.0).label("part_time"),
            func.sum(case((exits, 1), else_=0)).label("exits"),
            func.sum(case((exits, (gone - came) * 1.0), else_=0.0)).label("exit_time"),
        )
        .where(came < window.end_us, gone >= window.start_us)
        .group_by(lives.c.product)
    )


def _lives(read: Read) -> Sql:
    """When each part came and when it left, or the end of time."""
    known = read.known_before_us

    def left(instant: Any, known_us: Any) -> Any:
        return case((and_(instant.is_not(None), known_us < known), instant), else_=FOREVER_US)

    released = left(Life.released_us, Life.released_known_us)
    scrapped = left(Life.scrapped_us, Life.scrapped_known_us)
    used = left(Life.used_us, Life.used_known_us)
    first = case((released < scrapped, released), else_=scrapped)
    return select(
        Life.product,
        Life.created_us.label("came"),
        case((first < used, first), else_=used).label("left"),
    ).where(believed(read, Life))


def _came_within(read: Read, window: Window) -> Sql:
    return _lives(read).where(
        Life.product.in_(window.products),
        Life.created_us >= window.start_us,
        Life.created_us < window.end_us,
    )


def _there_before(read: Read, window: Window) -> Sql:
    """Lives that began before the window and reach into it, found by their standing there."""
    standing = select(Visit.serial).where(
        believed(read, Visit), there_at(read, window.start_us)
    )
    return _lives(read).where(
        Life.product.concat("").in_(window.products),
        Life.created_us < window.start_us,
        Life.serial.in_(standing),
    )

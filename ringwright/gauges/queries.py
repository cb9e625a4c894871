"""Gauges and their past, as the record has them."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, select

from ringwright.core.calendar import shift_at, site_time, wall_us
from ringwright.db import FOREVER_US
from ringwright.gauges.rules import Calibrated, Checked, GaugePast, Moment
from ringwright.sites.queries import read_calendars, read_stations
from ringwright.sites.site import Calendar, Gauge, Master
from ringwright.sites.tables import GaugeCalibration, GaugeCheck, GaugeNow, MasterNow

CHECKS_KEPT = 400
"""Checks read of one gauge: those of the last months, three a day."""


def read_gauges(connection: Connection, site_id: int) -> list[Gauge]:
    """Every gauge on the register by code, those out of use too."""
    query = select(GaugeNow.data).where(GaugeNow.site_id == site_id)
    rows = connection.execute(query.order_by(GaugeNow.code)).scalars()
    return [Gauge(**json.loads(data)) for data in rows]


def read_gauge_code(connection: Connection, site_id: int, code: str) -> bool:
    """True when the register has a gauge of this code."""
    query = select(GaugeNow.code).where(GaugeNow.site_id == site_id, GaugeNow.code == code)
    return connection.execute(query).first() is not None


def read_masters(connection: Connection, site_id: int) -> list[Master]:
    """Every master by code and kind, those out of use too."""
    query = select(MasterNow.data).where(MasterNow.site_id == site_id)
    rows = connection.execute(query.order_by(MasterNow.subject)).scalars()
    return [Master(**json.loads(data)) for data in rows]


def read_gauge(
    connection: Connection, site_id: int, code: str, known_before_us: int = FOREVER_US
) -> GaugePast | None:
    """One gauge with its calibrations, its latest checks and its masters; None if unknown."""
    data = connection.execute(
        select(GaugeNow.data).where(GaugeNow.site_id == site_id, GaugeNow.code == code)
    ).scalar()
    if data is None:
        return None
    gauge = Gauge(**json.loads(data))
    found = read_pasts(connection, site_id, [gauge], known_before_us)
    return found[code]


def read_pasts(
    connection: Connection,
    site_id: int,
    gauges: Sequence[Gauge],
    known_before_us: int = FOREVER_US,
    most_checks: int = CHECKS_KEPT,
) -> dict[str, GaugePast]:
    """Code to past, of many gauges, with the latest checks of each."""
    codes = [one.code for one in gauges]
    calibrations = _calibrations(connection, site_id, codes, known_before_us)
    checks = {
        code: _checks(connection, (site_id, code), known_before_us, most_checks)
        for code in codes
    }
    masters = [one for one in read_masters(connection, site_id) if not one.withdrawn]
    return {
        one.code: GaugePast(
            gauge=one,
            calibrations=calibrations.get(one.code, ()),
            checks=checks[one.code],
            masters=[m for m in masters if m.gauge_kind == one.kind],
        )
        for one in gauges
    }


def _calibrations(
    connection: Connection, site_id: int, codes: Sequence[str], known_before_us: int
) -> Mapping[str, list[Calibrated]]:
    table = GaugeCalibration
    query = select(table).where(
        table.site_id == site_id, table.code.in_(codes), table.known_us < known_before_us
    )
    found: dict[str, list[Calibrated]] = {}
    for row in connection.execute(query.order_by(table.calibrated_on, table.number)):
        found.setdefault(row.code, []).append(
            Calibrated(
                number=row.number,
                on=row.calibrated_on,
                due=row.due_on,
                good=row.good,
                at_us=row.at_us,
                uncertainty=row.uncertainty,
                certificate=row.certificate,
                note=row.note,
                actor=row.actor,
            )
        )
    return found


def _checks(
    connection: Connection, gauge: tuple[int, str], known_before_us: int, most: int
) -> list[Checked]:
    table, (site_id, code) = GaugeCheck, gauge
    query = (
        select(table)
        .where(table.site_id == site_id, table.code == code, table.known_us < known_before_us)
        .order_by(table.at_us.desc(), table.number.desc())
        .limit(most)
    )
    return _in_order(connection.execute(query))


def _in_order(rows: Iterable[Any]) -> list[Checked]:
    return [
        Checked(
            number=row.number,
            at_us=row.at_us,
            master=row.master,
            good=row.good,
            value=row.value,
            expected=row.expected,
            allowed=row.allowed,
            unit=row.unit,
            actor=row.actor,
            note=row.note,
        )
        for row in reversed(list(rows))
    ]


def moment_of(
    connection: Connection, site: tuple[int, str], at_us: int, station: str = ""
) -> Moment:
    """An instant with its day and the beginning of the shift at a station; `site` is its
    number and zone."""
    site_id, zone = site
    calendar = None
    if station:
        stations = read_stations(connection, site_id)
        calendar = next((one.calendar for one in stations if one.code == station), None)
    calendars = read_calendars(connection, site_id, calendar or None)
    return moment_in(calendars, zone, at_us)


def moment_in(calendars: Sequence[Calendar], zone: str, at_us: int) -> Moment:
    """An instant in the shifts of a calendar."""
    there = site_time(at_us, zone)
    midnight = there.replace(tzinfo=None, hour=0, minute=0, second=0, microsecond=0)
    shift = shift_at(calendars, at_us, zone)
    since_us = shift[0] if shift else wall_us(midnight, zone)
    return Moment(at_us=at_us, day=there.date().isoformat(), since_us=since_us)

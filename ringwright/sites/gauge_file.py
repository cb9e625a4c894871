"""Gauges and masters of a site file."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from ringwright.core.errors import Refused
from ringwright.core.fields import Fields
from ringwright.sites.gauge_papers import checked_calibration, checked_gauge, checked_master
from ringwright.sites.site import Calibration, Gauge, Master

Record = TypeVar("Record", Gauge, Calibration, Master)


def gauge_of(fields: Fields) -> Gauge:
    """One [[gauge]] table."""
    fields.only(
        *("code", "kind", "name", "unit", "uncertainty", "resolution", "station", "also"),
        *("calibrated", "due", "certificate"),
    )
    gauge = Gauge(
        code=fields.code("code"),
        kind=fields.code("kind"),
        name=fields.text("name", ""),
        unit=fields.code("unit", ""),
        uncertainty=fields.optional_number("uncertainty"),
        resolution=fields.optional_number("resolution"),
        station=fields.code("station", ""),
        also=fields.numbers_by_code("also"),
    )
    return _sound(fields, gauge, checked_gauge)


def calibration_of(fields: Fields) -> Calibration | None:
    """The calibration that a [[gauge]] table carries; None where it names no day."""
    on, due = fields.optional_date("calibrated"), fields.optional_date("due")
    if on is None and due is None:
        return None
    one = Calibration(
        gauge=fields.code("code"),
        on=on or "",
        due=due or "",
        certificate=fields.code("certificate", ""),
        uncertainty=fields.optional_number("uncertainty"),
    )
    return _sound(fields, one, checked_calibration)


def master_of(fields: Fields) -> Master:
    """One [[master]] table."""
    fields.only("code", "gauge_kind", "name", "unit", "value", "allowed")
    master = Master(
        code=fields.code("code"),
        gauge_kind=fields.code("gauge_kind"),
        name=fields.text("name", ""),
        unit=fields.code("unit"),
        value=fields.number("value"),
        allowed=fields.number("allowed"),
    )
    return _sound(fields, master, checked_master)


def _sound(fields: Fields, record: Record, check: Callable[[Record], Record]) -> Record:
    try:
        return check(record)
    except Refused as refusal:
        fields.refuse(refusal.message)

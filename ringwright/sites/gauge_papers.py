"""A gauge, a calibration, a master as they may be recorded; each raises Refused."""

from __future__ import annotations

import math
from dataclasses import fields
from datetime import date

from ringwright.core.errors import Refused
from ringwright.core.fields import problem_of_code, problem_of_text
from ringwright.sites.site import Calibration, Gauge, Master

_CODES = frozenset({"code", "kind", "gauge", "gauge_kind", "unit", "station", "certificate"})
_NEEDED = frozenset({"code", "kind", "gauge", "gauge_kind"})


def checked_gauge(gauge: Gauge) -> Gauge:
    """The gauge, if its texts are sound and its uncertainty and resolution are positive."""
    _check_texts(gauge)
    _check_positive("uncertainty", gauge.uncertainty)
    _check_positive("resolution", gauge.resolution)
    for unit, uncertainty in gauge.also.items():
        problem = "is missing" if not unit else problem_of_code(unit)
        if problem is not None:
            raise Refused(f"unit {problem}")
        _check_positive(f"uncertainty in {unit}", uncertainty)
    if gauge.unit in gauge.also:
        raise Refused(f"{gauge.unit} is its own unit; give its uncertainty there")
    if (gauge.uncertainty or gauge.resolution) and not gauge.unit:
        raise Refused("unit is missing; the uncertainty and resolution are in it")
    return gauge


def checked_calibration(one: Calibration) -> Calibration:
    """The calibration, if its days are days in order; a failed one says what was found."""
    _check_texts(one)
    _check_positive("uncertainty", one.uncertainty)
    for name, text in (("on", one.on), ("due", one.due)):
        _check_day(name, text)
    if one.due < one.on:
        raise Refused("due lies before the day of the calibration")
    if not one.good and not one.note.strip():
        raise Refused("say what the calibration found wrong (note)")
    return one


def checked_master(master: Master) -> Master:
    """The master, if it has a unit, a value and a positive allowed difference."""
    _check_texts(master)
    if "/" in master.code:
        raise Refused("code must not hold a slash; it stands between master and kind of gauge")
    if not master.unit:
        raise Refused("unit is missing")
    if not math.isfinite(master.value):
        raise Refused("value is not a finite number")
    if not (math.isfinite(master.allowed) and master.allowed > 0):
        raise Refused("allowed must be above zero: the largest difference of a sound gauge")
    return master


def _check_texts(record: Gauge | Calibration | Master) -> None:
    for item in fields(record):
        value = getattr(record, item.name)
        if not isinstance(value, str) or item.name in ("on", "due"):
            continue
        if not value and item.name in _NEEDED:
            raise Refused(f"{item.name} is missing")
        code = item.name in _CODES and value != ""
        problem = problem_of_code(value) if code else problem_of_text(value)
        if problem is not None:
            raise Refused(f"{item.name} {problem}")


def _check_positive(name: str, value: float | None) -> None:
    if value is not None and not (math.isfinite(value) and value > 0):
        raise Refused(f"{name} must be above zero")


def _check_day(name: str, text: str) -> None:
    try:
        if date.fromisoformat(text).isoformat() != text:
            raise ValueError
    except ValueError:
        said = f"{text[:40]!r} is not a date like 2026-10-01"
        raise Refused(f"{name} {said}" if text else f"{name} is missing") from None

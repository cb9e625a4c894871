"""The numbers of the Queues page as the API gives them; hours and parts, rates a week."""

from __future__ import annotations

from typing import Any, Final

from ringwright.core.calendar import HOUR_US, iso_text
from ringwright.queueing.extra import Gain, GroupGain
from ringwright.queues.extra import FEW, ExtraSheet
from ringwright.queues.model import Group, ProductLine, QueuesSheet

WEEK_H: Final = 168.0


def queues_json(sheet: QueuesSheet, extra: ExtraSheet) -> dict[str, Any]:
    """Everything on the page."""
    return {
        "weeks": sheet.weeks,
        "neck": sheet.neck.code if sheet.neck else None,
        "groups": [_group(one, sheet.drawn.zone) for one in sheet.groups],
        "lines": [_line(one) for one in sheet.lines],
        "visits_without_station": sheet.no_station,
        "extra_hour": _extra(extra),
    }


def _group(one: Group, zone: str) -> dict[str, Any]:
    spent = one.hours
    return {
        "code": one.code,
        "stations": list(one.stations),
        "use": spent.use,
        "in_use_h": spent.in_use_us / HOUR_US,
        "idle_though_waiting_h": spent.passed_by_us / HOUR_US,
        "starved_h": spent.starved_us / HOUR_US,
        "shut_h": spent.shut_us / HOUR_US,
        "mean_queue": one.mean_queue,
        "mean_wait_h": None if one.mean_wait_us is None else one.mean_wait_us / HOUR_US,
        "waiting": [
            {
                "serial": part.serial,
                "product": part.product,
                "step": part.step,
                "since": iso_text(part.since_us, zone),
                "hold": part.hold,
            }
            for part in one.waiting
        ],
    }


def _line(one: ProductLine) -> dict[str, Any]:
    line, wip = one.line, max(one.wip, 1.0)
    return {
        "product": one.product,
        "neck": one.neck or None,
        "wip": one.wip,
        "critical_wip": line.critical_wip if line else None,
        "out_per_week": one.rate_per_h * WEEK_H,
        "bottleneck_rate_per_week": line.rate_per_h * WEEK_H if line else None,
        "practical_worst_per_week": (
            line.practical_worst(wip).rate_per_h * WEEK_H if line else None
        ),
        "worst_per_week": line.worst(wip).rate_per_h * WEEK_H if line else None,
        "in_the_cell_h": one.cycle_h,
        "raw_process_h": line.raw_h if line else None,
    }


def _extra(sheet: ExtraSheet) -> dict[str, Any]:
    found = sheet.gains
    return {
        "week": sheet.week,
        "can_say": found is not None,
        "why_not": None if found else _why(sheet),
        "best": found.named.code if found and found.named else None,
        "runs": found.runs if found else 0,
        "released_without": _gain(found.without) if found else None,
        "groups": [_gained(one, sheet) for one in found.groups] if found else [],
        "left_out": list(found.left_out) if found else [],
        "planned_steps": [
            {"product": product, "step": number} for product, number in sheet.planned
        ],
    }


def _why(sheet: ExtraSheet) -> str:
    if sheet.releases < FEW:
        return f"cannot say yet: {sheet.releases} releases in six weeks, {FEW} are needed"
    return "cannot say yet: no step names a station group of this site"


def _gained(one: GroupGain, sheet: ExtraSheet) -> dict[str, Any]:
    begins_us = sheet.drawn.now_us + round(one.at_h * HOUR_US)
    return {
        "code": one.code,
        "added": "beside" if one.beside else "overtime",
        "begins": iso_text(begins_us, sheet.drawn.zone),
        "hour": _gain(one.hour),
        "difference_seen": one.hour.seen,
        "chance_best": one.best,
        "used": one.used,
        "shift": _gain(one.shift) if one.shift else None,
        "runs": one.runs,
    }


def _gain(one: Gain) -> dict[str, float]:
    return {
        "mean": one.mean,
        "standard_error": one.error,
        "low_95": one.low,
        "high_95": one.high,
    }

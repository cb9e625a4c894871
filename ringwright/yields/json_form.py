"""The yields as the API gives them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ringwright.flow.account import account_json
from ringwright.yields.model import Cohort, Group, Reasons, StepYield, YieldSheet
from ringwright.yields.rules import Share


def yield_json(sheet: YieldSheet) -> dict[str, Any]:
    """Every number of the page, unrounded."""
    return {
        "product": sheet.product,
        "first": sheet.weeks[0],
        "last": sheet.weeks[-1],
        "without": sheet.left_out.code if sheet.left_out else None,
        "steps": [_step(step) for step in sheet.steps],
        "rolled_throughput_yield": sheet.rolled,
        "rolled_missing": list(sheet.rolled_missing),
        "final_yield": share_json(sheet.final),
        "cohort": _cohort(sheet.cohort),
        "scrap": _reasons(sheet.scrap),
        "rework": _reasons(sheet.reworked),
        "weeks": [
            {
                "week": point.week,
                "in_window": point.in_window,
                "final_yield": share_json(point.share),
                "lower": point.lower,
                "upper": point.upper,
                "outside": point.outside,
            }
            for point in sheet.final_trend.points
        ],
        "by": sheet.by,
        "groups": [_group(group) for group in sheet.groups],
        "account": account_json(sheet.account),
    }


def share_json(share: Share) -> dict[str, Any]:
    """A share with its interval and n."""
    return {
        "value": share.value,
        "low": share.low,
        "high": share.high,
        "n": share.n,
        "loads": share.loads,
    }


def _step(step: StepYield) -> dict[str, Any]:
    return {
        "number": step.number,
        "name": step.name,
        "visits": step.visits,
        "first_visits": step.first_visits,
        "first_passes": step.first_passes,
        "first_pass_yield": share_json(step.first_pass),
        "rework_ratio": share_json(step.rework),
        "scrap_ratio": share_json(step.scrap),
        "fall_off_ratio": step.fall_off,
        "rolled": step.rolled,
        "before": share_json(step.trend.before),
        "trend": step.trend.verdict,
    }


def _cohort(cohort: Cohort) -> dict[str, Any]:
    return {
        "created": cohort.created,
        "released": cohort.released,
        "scrapped": cohort.scrapped,
        "open": cohort.open,
        "floor": cohort.floor.value,
        "ceiling": cohort.ceiling.value,
    }


def _reasons(reasons: Reasons) -> dict[str, Any]:
    return {
        "total": reasons.total,
        "by_defect": _counts(reasons.by_defect),
        "by_place": _counts(reasons.by_place),
        "by_found": _counts(reasons.by_found),
        "by_caused": _counts(reasons.by_caused),
        "threads": [
            {"caused": thread.caused, "found": thread.found, "parts": thread.parts}
            for thread in reasons.threads
        ],
        "not_placed": reasons.not_placed,
    }


def _counts(counts: Iterable[tuple[str | int | None, int]]) -> list[dict[str, Any]]:
    return [{"of": None if of == "" else of, "parts": parts} for of, parts in counts]


def _group(group: Group) -> dict[str, Any]:
    return {
        "key": group.key,
        "step": group.step,
        "first_visits": group.first_visits,
        "first_pass_yield": share_json(group.first_pass),
        "rolled_throughput_yield": group.rolled,
        "rework_ratio": share_json(group.rework),
        "final_yield": share_json(group.final),
        "cohort": _cohort(group.cohort) if group.cohort else None,
    }

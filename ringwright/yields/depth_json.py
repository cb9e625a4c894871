"""The pages below Yield as the API gives them: chart, comparison and losses, unrounded."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ringwright.core.instants import iso_text
from ringwright.flow.account import account_json
from ringwright.parts.outline import outline_of
from ringwright.yields.charting import Dot
from ringwright.yields.comparing import Comparison, Pair, Side
from ringwright.yields.depth import Charted
from ringwright.yields.json_form import share_json
from ringwright.yields.losses import Loss, Lost, by_reason, together
from ringwright.yields.model import YieldSheet


def chart_json(found: Charted) -> dict[str, Any]:
    """Every point of a chart, what it says, and how often that is wrong."""
    control = found.control
    return {
        **_frame(found.sheet),
        "kind": control.kind,
        "step": control.step,
        "unit": "h" if control.in_hours else "share",
        "of_loads": control.of_loads,
        "rules": list(control.rules),
        "centre": control.centre,
        "from_before": control.from_before,
        "false_signals_a_week": control.false_a_week,
        "charts": control.charts,
        "false_signals_a_week_of_all": control.false_all,
        "points": [_dot(dot) for dot in control.dots],
        "parts": [
            {
                "serial": part.serial,
                "at": iso_text(part.at_us, found.sheet.zone),
                "outcome": part.outcome,
                "station": part.station,
                "run": part.run,
                "defect": part.defect,
            }
            for part in found.behind
        ],
    }


def _frame(sheet: YieldSheet) -> dict[str, Any]:
    return {
        "product": sheet.product,
        "first": sheet.weeks[0],
        "last": sheet.weeks[-1],
        "without": sheet.left_out.code if sheet.left_out else None,
        "account": account_json(sheet.account),
    }


def _dot(dot: Dot) -> dict[str, Any]:
    return {
        "name": dot.name,
        "value": dot.value,
        "n": dot.n,
        "loads": dot.loads,
        "in_window": dot.in_window,
        "small": dot.small,
        "lower": dot.lower,
        "upper": dot.upper,
        "signals": list(dot.broken),
    }


def comparison_json(sheet: YieldSheet, found: Comparison) -> dict[str, Any]:
    """The groups, the two that are compared, and the first against each other one."""
    return {
        **_frame(sheet),
        "by": found.by,
        "step": found.step,
        "groups": [_side(side) for side in found.sides],
        "comparisons": found.could,
        "overlap": found.overlap,
        "chosen": _pair(found.chosen) if found.chosen else None,
        "pairs": [_pair(pair) for pair in found.pairs],
    }


def _side(side: Side) -> dict[str, Any]:
    return {"key": side.key, "good": side.good, "share": share_json(side.share)}


def _pair(pair: Pair) -> dict[str, Any]:
    return {
        "one": pair.a.key,
        "other": pair.b.key,
        "difference": pair.difference,
        "low": pair.low,
        "high": pair.high,
        "p": pair.chance,
        "p_adjusted": pair.adjusted,
        "test": pair.test,
        "small": pair.small,
    }


def losses_json(sheet: YieldSheet, parts: tuple[Lost, ...]) -> dict[str, Any]:
    """What the scrapped parts took: in all, by reason, part by part."""
    outline = outline_of(sheet.family)

    def place(part: Lost) -> str | None:
        zone = outline.zone_of(part.place)
        return zone.name if zone else part.place or None

    def by(reason: Callable[[Lost], Any]) -> list[dict[str, Any]]:
        return [{"of": loss.key, **_loss(loss)} for loss in by_reason(parts, reason)]

    return {
        **_frame(sheet),
        "lost": _loss(together(None, parts)),
        "by_caused": by(lambda part: part.caused),
        "by_found": by(lambda part: part.found),
        "by_defect": by(lambda part: part.defect or None),
        "by_place": by(place),
        "parts": [_lost(part, sheet.zone) for part in parts],
    }


def _loss(loss: Loss) -> dict[str, Any]:
    return {
        "parts": loss.parts,
        "weighed": loss.weighed,
        "mass_kg": loss.mass_kg if loss.weighed else None,
        "touch_h": loss.touch_h,
        "touch_working_h": loss.touch_working_h,
        "elapsed_h": loss.elapsed_h,
        "elapsed_working_h": loss.elapsed_working_h,
    }


def _lost(part: Lost, zone: str) -> dict[str, Any]:
    return {
        "serial": part.serial,
        "at": iso_text(part.at_us, zone),
        "defect": part.defect or None,
        "place": part.place or None,
        "found": part.found,
        "caused": part.caused,
        "mass_kg": part.mass_kg,
        "touch_h": part.touch_h,
        "touch_working_h": part.touch_working_h,
        "elapsed_h": part.elapsed_h,
        "elapsed_working_h": part.elapsed_working_h,
    }

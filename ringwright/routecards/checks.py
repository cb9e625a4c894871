"""What makes a route card sound as a whole, wherever it was written."""

from __future__ import annotations

from itertools import pairwise

from ringwright.core.errors import Refused
from ringwright.core.fields import first_repeated
from ringwright.routecards.card import Characteristic, ReworkCard, RouteCard, Step


def check_route(card: RouteCard, where: str) -> None:
    """Refuse a route card whose steps, limits, windows or rework cards do not fit together."""
    problem = (
        _problem_of_order(card)
        or next(filter(None, (_problem_of_step(card, step) for step in card.steps)), None)
        or _problem_of_rework_cards(card)
        or _problem_of_modes(card)
    )
    if problem is not None:
        raise Refused(f"{where}: {problem}")


def _problem_of_modes(card: RouteCard) -> str | None:
    """Modes of one step whose windows overlap: a peak in both would have two names."""
    for step in card.steps:
        windows = [(one.search, one.code) for one in step.characteristics if one.search]
        windows.sort()
        for (first, code), (second, other) in pairwise(windows):
            if second[0] < first[1]:
                return f"step {step.number}: search of {code} and of {other} overlap"
    return None


def _problem_of_order(card: RouteCard) -> str | None:
    if not card.steps:
        return "the route has no [[step]]"
    twice = first_repeated(card.order)
    if twice is not None:
        return f"step {twice}: that number stands twice"
    for earlier, later in zip(card.order, card.order[1:], strict=False):
        if later < earlier:
            return f"step {later}: stands after step {earlier}; write steps in rising order"
    return None


def _problem_of_step(card: RouteCard, step: Step) -> str | None:
    here = f"step {step.number}"
    for name in ("planned_hours", "queue_hours"):
        if getattr(step, name) < 0:
            return f"{here}: {name} must not be negative"
    twice = first_repeated(c.code for c in step.characteristics)
    if twice is not None:
        return f"{here}: characteristic {twice} stands twice"
    for characteristic in step.characteristics:
        problem = _problem_of_limits(characteristic)
        if problem is not None:
            return f"{here}: characteristic {characteristic.code}: {problem}"
    problem = _problem_of_window(card, step)
    return f"{here}: {problem}" if problem is not None else None


def _problem_of_limits(characteristic: Characteristic) -> str | None:
    lower, upper = characteristic.lower, characteristic.upper
    if lower is not None and upper is not None and lower > upper:
        return f"lower limit {lower} is above upper limit {upper}"
    if characteristic.nominal is not None and not characteristic.inside(characteristic.nominal):
        return f"nominal {characteristic.nominal} is outside its limits"
    return None


def _problem_of_window(card: RouteCard, step: Step) -> str | None:
    if step.window is None:
        return None
    after = card.index.get(step.window.after)
    if after is None or after >= card.index[step.number]:
        return f"window after {step.window.after}: that is no earlier step"
    if step.window.max_hours <= 0:
        return "window max_hours must be above zero"
    return None


def _problem_of_rework_cards(card: RouteCard) -> str | None:
    twice = first_repeated(rework.code for rework in card.rework_cards)
    if twice is not None:
        return f"rework card {twice}: that code stands twice"
    found = (_problem_of_rework_card(card, rework) for rework in card.rework_cards)
    return next(filter(None, found), None)


def _problem_of_rework_card(card: RouteCard, rework: ReworkCard) -> str | None:
    here = f"rework card {rework.code}"
    if rework.raised_at not in card.index:
        return f"{here}: raised_at {rework.raised_at} is no step of the route"
    if not rework.repeat:
        return f"{here}: repeat names no step"
    for number in rework.repeat:
        if number not in card.index:
            return f"{here}: repeat {number} is no step of the route"
        if card.index[number] > card.index[rework.raised_at]:
            # The part returns to the raising step, so nothing beyond it can be repeated.
            return f"{here}: repeat {number} comes after step {rework.raised_at}"
    return None

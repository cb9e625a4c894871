"""What the spindles of the case shop logged: made from the visits that the story tells.

Dice of their own: what a spindle logs must not change what the factory does next.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import files
from random import Random
from typing import Any, Final

from ringwright.core.calendar import HOUR_US, week_of
from ringwright.core.fields import as_data
from ringwright.machines.card import DOWN as MACHINE_DOWN
from ringwright.machines.card import (
    MATERIAL,
    NO_MAKER,
    OTHER,
    TOOL_BROKEN,
    WAIT_CRANE,
    WAIT_MEASURE,
    WAIT_TOOL,
    MachiningFile,
)
from ringwright.machines.toml import parse_machining
from seed_demo.hours import Span
from seed_demo.plant import Part, Place
from seed_demo.shop import MINUTE_US, Shop

CASE: Final = "HF22-CASE"
WEEK_STARTS: Final = "monday 00:00"
WHY: Final[tuple[tuple[str, float], ...]] = (
    (WAIT_CRANE, 0.24),
    (WAIT_MEASURE, 0.22),
    (TOOL_BROKEN, 0.18),
    (WAIT_TOOL, 0.14),
    (NO_MAKER, 0.1),
    (MACHINE_DOWN, 0.06),
    (MATERIAL, 0.04),
    (OTHER, 0.02),
)
"""Reasons and how often each is the one."""
WORDS: Final = {OTHER: "coolant topped up", TOOL_BROKEN: "insert chipped at the flange"}


def demo_machining() -> MachiningFile:
    """The machining plan of the fan case."""
    name = f"{CASE}.machining.toml"
    text = files("seed_demo").joinpath("cards", name).read_text(encoding="utf-8")
    return parse_machining(text, name)


def set_machining(shop: Shop) -> None:
    """On the day the factory opened the planner wrote down what machining needs."""
    file = demo_machining()
    needs = [as_data(need) | {"machines": list(need.machines)} for need in file.plan.needs]
    for one in file.fixtures:
        shop.tell_of(
            "fixture", one.kind, "fixture-set", "planner", count=one.count, name=one.name
        )
    shop.tell_of("machining", CASE, "machining-plan", "planner", needs=needs)


def log_visit(shop: Shop, place: Place, part: Part, spans: Sequence[Span]) -> None:
    """The log of one case on one machine: set-up, cutting, stops; off while nobody is there."""
    if part.card.product != CASE or part.step.kind != "machining":
        return
    die = Random(f"spindle/{part.serial}/{part.step.number}/{spans[0][0]}")  # noqa: S311
    need = demo_machining().plan.by_step[part.step.number]
    blocks = _blocks(spans)
    total_us = sum(end - begin for begin, end in blocks)
    set_up_us = min(round(need.set_up_h * HOUR_US * die.uniform(0.8, 1.5)), total_us // 3)
    marks: list[tuple[int, str, dict[str, Any]]] = [
        (0, "set-up-begun", {}),
        (set_up_us, "cutting-begun", {}),
        *_stops(die, set_up_us, total_us),
    ]
    told: list[tuple[int, str, dict[str, Any]]] = []
    state, done_us = "set-up-begun", 0
    for begin, end in blocks:
        if done_us:
            told.append((begin, state, {}))
        until_us = done_us + end - begin
        for offset, kind, more in marks:
            if done_us <= offset < until_us and (offset or not done_us):
                told.append((begin + offset - done_us, kind, more))
                state = kind if kind in ("set-up-begun", "cutting-begun") else state
        told.append((end, "spindle-off", {}))
        done_us = until_us
    for at_us, kind, more in _one_by_one(told):
        _tell(shop, place, part, at_us, kind, more)


def _blocks(spans: Sequence[Span]) -> list[Span]:
    """Spans that touch are one: crews change at a running machine."""
    found: list[Span] = []
    for begin, end in spans:
        if found and begin - found[-1][1] < HOUR_US:
            found[-1] = (found[-1][0], end)
        else:
            found.append((begin, end))
    return found


def _stops(die: Random, from_us: int, until_us: int) -> list[tuple[int, str, dict[str, Any]]]:
    """Stops and how each ends, one after the other, in time worked since the visit began."""
    found: list[tuple[int, str, dict[str, Any]]] = []
    at_us = from_us + round(die.uniform(1, 9) * HOUR_US)
    while at_us < until_us - 2 * HOUR_US:
        reason = die.choices([why for why, _ in WHY], [share for _, share in WHY])[0]
        lasts_us = round(min(die.lognormvariate(-0.4, 0.7), 4.0) * HOUR_US)
        at_us -= at_us % MINUTE_US
        more = {"reason": reason}
        if reason in WORDS:
            more["text"] = WORDS[reason]
        found.append((at_us, "spindle-stopped", more))
        back_us = min(at_us + lasts_us, until_us - HOUR_US)
        found.append((back_us - back_us % MINUTE_US, "spindle-resumed", {}))
        at_us = back_us + round(die.uniform(5, 22) * HOUR_US)
    return found


def _one_by_one(
    told: Sequence[tuple[int, str, dict[str, Any]]],
) -> list[tuple[int, str, dict[str, Any]]]:
    """Without what a closed time has made idle: going on from a stop that is over."""
    found: list[tuple[int, str, dict[str, Any]]] = []
    stopped = False
    for at_us, kind, more in told:
        if kind == "spindle-resumed" and not stopped:
            continue
        stopped = kind == "spindle-stopped"
        found.append((at_us, kind, more))
    return found


def _tell(
    shop: Shop, place: Place, part: Part, at_us: int, kind: str, more: dict[str, Any]
) -> None:
    week = week_of(at_us, shop.zone, WEEK_STARTS)
    by = shop.first_of("maker", shop.hours.turn(at_us - 1)[0])
    shop.tell_of(
        "spindle", f"{place.code} {week}", kind, by,
        at_us=at_us, serial=part.serial, step=part.step.number, **more,
    )  # fmt: skip

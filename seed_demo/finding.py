"""What is found wrong at a visit, and where that sends the part."""

from __future__ import annotations

from typing import Any

from seed_demo.faults import BAD_LOAD_CHANCE, BAD_LOAD_RISK, FAULTS
from seed_demo.plant import Part
from seed_demo.shop import Shop


def draw_risk(shop: Shop) -> float:
    """How many times likelier faults become for a load that quietly goes wrong, mostly 0."""
    return BAD_LOAD_RISK if shop.random.random() < BAD_LOAD_CHANCE else 0.0


def draw_fault(shop: Shop, part: Part) -> int:
    """What is found wrong at this step, by its place among the step's faults; -1: nothing.

    A load that went wrong is found by the first inspection that looks for what it causes; an
    inspection clears the doubt.
    """
    draw, risk, cause = shop.random.random(), 1.0, part.cause
    faults = FAULTS.get((part.card.product, part.step.number), ())
    if part.step.kind == "inspection" and (
        not cause or any(cause in fault.caused for fault in faults)
    ):
        risk, part.risk, part.cause = part.risk, 1.0, 0
    part.blame = 0
    for place, fault in enumerate(faults):
        draw -= fault.chance * (risk if not cause or cause in fault.caused else 1.0)
        if draw < 0:
            part.blame = cause if risk > 1.0 and cause in fault.caused else 0
            return place
    return -1


def conclude(shop: Shop, part: Part, number: int) -> None:
    """The visit ends well, goes round by a card, or is stopped for what was found."""
    if number < 0:
        shop.end(part, "pass", part.actor)
        return
    fault = FAULTS[part.card.product, part.step.number][number]
    card = part.card.rework_card(fault.card)
    if fault.outcome == "rework" and card is not None and part.may_follow(card):
        shop.end(part, "rework", part.actor, fault)
        return
    stop(shop, part, number)


def stop(shop: Shop, part: Part, number: int) -> None:
    """What was found stops the part; it is sentenced later."""
    step = part.step.number
    fault = FAULTS[part.card.product, step][number]
    data: dict[str, Any] = {"defect": fault.defect, "step": step}
    if fault.reads:
        data["characteristic"] = fault.reads
    if fault.places:
        data["place_on_part"] = shop.random.choice(fault.places)
    part.stop = part.told
    shop.tell(part, "stop", part.actor, station=part.station, **data)
    shop.do("stopped", part, number)

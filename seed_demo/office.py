"""What people decide in the invented factory: starts, sentences, units sent, trolleys moved."""

from __future__ import annotations

from typing import Any, Final

from ringwright.core.calendar import HOUR_US, SECOND_US
from seed_demo.faults import FAULTS, STARTS, Fault
from seed_demo.plant import DONE, LINE, SENT, WAY, WORK, Part
from seed_demo.shop import MINUTE_US, Shop

DAY_US: Final = 24 * HOUR_US
WEEK_US: Final = 7 * DAY_US
MANNED_H: Final = 126.0
"""Manned hours of an ordinary week, over which starts are spread."""
CAGE: Final = "CAGE-1"
"""The quarantine cage."""
AREAS: Final = {
    "stores": "Stores",
    "clean-line": "Bond shop",
    "bond-press": "Bond shop",
    "ut-tank": "Bond shop",
    "twist-press": "Furnace hall",
    "inflation-furnace": "Furnace hall",
    "etch-line": "Machine shop",
    "mill-5ax": "Machine shop",
    "penetrant-line": "Inspection",
    "cmm": "Inspection",
    "moment-scale": "Inspection",
    "ring-bench": "Inspection",
    "release-desk": "Inspection",
    "wax-press": "Wax room",
    "xray": "X-ray",
    "shell-line": "Foundry",
    "crystal-furnace": "Foundry",
    "leach-tank": "Foundry",
    "grain-bench": "Foundry",
    "vacuum-furnace": "Furnace hall",
    "root-grinder": "Machine shop",
    "proof-rig": "Inspection",
    "vertical-lathe": "Case shop",
    "case-mill": "Case shop",
    "case-furnace": "Case shop",
    "weld-cell": "Case shop",
}
BUSY: Final = (WAY, LINE, WORK)
SCRAPPED_HOW: Final = ("cut through the root", "cut in two", "drilled through")


def start(shop: Shop, product: str) -> None:
    """The planner starts the next few parts, unless the pile is high enough."""
    plan = STARTS[product]
    if shop.in_work[product] < plan.most_in_work:
        lot = f"{plan.lot}{100 + shop.count('lots ' + product):04}"
        shop.do("register lot", product, lot)
        trolley = _free_trolley(shop)
        shop.carriers[trolley] = "Stores" if product != "PT68-BLADE" else "Wax room"
        shop.tell_of("carrier", trolley, "carrier-move", "planner", to=shop.carriers[trolley])
        for _ in range(plan.at_once):
            _create(shop, product, lot, trolley)
    gap_us = shop.hours_of(MANNED_H * plan.at_once / plan.per_week, 0.1)
    shop.later(shop.hours.spans(shop.now, gap_us)[-1][1], "start", product)


def _free_trolley(shop: Shop) -> str:
    number = 1
    while any(part.state in BUSY for part in shop.trolleys.get(f"TR-{number}", ())):
        number += 1
    shop.trolleys[f"TR-{number}"] = []
    return f"TR-{number}"


def _create(shop: Shop, product: str, lot: str, trolley: str) -> None:
    plan, card = STARTS[product], shop.cards[product]
    serial = f"{plan.serial}{shop.count('made ' + product):0{plan.digits}}"
    part = Part(serial, card, lot, trolley, size=round(shop.random.gauss(0.0, 1.0), 4))
    shop.parts[serial] = part
    shop.trolleys[trolley].append(part)
    shop.in_work[product] += 1
    shop.tell(part, "create", "planner", product=product, revision=card.revision, lot=lot)
    shop.move(part, trolley, shop.crew("maker"), 1)
    shop.queue(part)


def moved_on(shop: Shop, part: Part) -> None:
    """What follows when a part goes on to its next step: new marks, trolleys."""
    number = part.step.number
    if not part.rework and part.visits.get(number, 0) == 0:
        if (part.card.product, number) == ("HF22-BLADE", 40):
            place = int(part.serial[-5:]) % 6 + 1
            sheets = [f"{part.lot}-{place}{letter}" for letter in "ABC"]
            shop.tell(part, "join", part.actor, members=sheets)
        elif (part.card.product, number) == ("HF22-CASE", 90):
            shop.tell(part, "remark", part.actor, mark=f"{part.serial}-T")
    _push_trolley(shop, part)
    shop.do("cleaned", part)


def _push_trolley(shop: Shop, part: Part) -> None:
    """The trolley goes to the next area once all that lies on it is due there."""
    area = AREAS[part.step.station_group]
    if shop.carriers.get(part.trolley) == area:
        return
    for other in shop.trolleys[part.trolley]:
        if other.state not in BUSY:
            continue
        if other.state == WORK or AREAS[other.step.station_group] != area:
            return
    shop.carriers[part.trolley] = area
    by = shop.crew("maker")
    shop.tell_of("carrier", part.trolley, "carrier-move", by, to=area)


def last_end(shop: Shop, part: Part) -> None:
    """The planner takes a raised priority back when the part is about to leave the cell."""
    if part.raised:
        part.raised = False
        shop.tell(part, "prioritise", "planner", rank=0, reason="out of the cell")


def stopped(shop: Shop, part: Part, number: int) -> None:
    """The stopped part goes to the cage and is judged in office hours, a day or so later."""
    random = shop.random
    shop.move(part, CAGE, part.actor, 4)
    at_us = shop.office.next_open(shop.now + random.randrange(180, 2400) * MINUTE_US)
    shop.later(at_us + random.randrange(60, 4800) * SECOND_US, "sentence", part.serial, number)


def sentence(shop: Shop, serial: str, number: int) -> None:
    """The quality engineer, or the design authority, decides what becomes of it."""
    part = shop.parts[serial]
    fault = FAULTS[part.card.product, part.step.number][number]
    decide(shop, part, fault, _decision(part, fault))


def decide(shop: Shop, part: Part, fault: Fault, decision: str) -> None:
    """The stopped part is sentenced so, and goes where that sends it."""
    by = "design-authority" if decision in ("concession", "repair") else "quality-engineer"
    data: dict[str, Any] = {"decision": decision, "reason": _reason(fault, decision)}
    if part.blame:
        data["caused_step"] = part.blame
    elif fault.caused:
        data["caused_step"] = shop.random.choice(fault.caused)
    elif decision != "withdrawn":
        data["caused_step"] = part.step.number
    if decision == "scrap":
        data["kept"] = "locked-up" if shop.random.random() < 0.3 else "marked"
    if decision == "rework":
        data["card"] = fault.card
    if by == "design-authority":
        data["document"] = f"HRW-{shop.count('documents'):04}"
        data["scope"] = f"{part.serial} only: {fault.defect}"
        data["quantity"] = 1
        data["customer_approval"] = f"CA-{shop.count('approvals'):04}"
    if decision == "scrap":
        last_end(shop, part)
    shop.tell(part, "sentence", by, ref=part.stop, **data)
    _follow(shop, part, fault, decision)


def _decision(part: Part, fault: Fault) -> str:
    """What is decided; a part that may not go round again gets a concession or is scrapped."""
    card = part.card.rework_card(fault.card)
    inspected = part.step.kind == "inspection"
    if fault.outcome in ("rework", "sent back"):
        if card is not None and part.may_follow(card):
            return "rework"
        return "concession" if inspected and fault.outcome == "rework" else "scrap"
    if fault.outcome == "repair":
        again = card is not None and not part.rework and _may_repair(part, card.repeat[0])
        return "repair" if again else "concession"
    return fault.outcome


def _may_repair(part: Part, first: int) -> bool:
    steps = part.card.steps[part.card.index[first] : part.place + 1]
    return all(
        step.max_visits is None or part.visits.get(step.number, 0) < step.max_visits
        for step in steps
    )


def _reason(fault: Fault, decision: str) -> str:
    return {
        "withdrawn": "looked at again: nothing wrong",
        "scrap": f"{fault.defect}: cannot be made good",
        "rework": f"{fault.defect}: again by the card",
        "repair": f"{fault.defect}: dressed within the drawing's repair limits",
        "concession": f"{fault.defect}: stress report covers it",
    }[decision]


def _follow(shop: Shop, part: Part, fault: Fault, decision: str) -> None:
    part.stop = -1
    if decision == "scrap":
        shop.scrap(part)
        if shop.random.random() < 0.75:
            days = shop.random.randrange(1, 6)
            at_us = shop.office.next_open(shop.now + days * DAY_US) + 45 * MINUTE_US
            shop.later(at_us, "witness", part.serial)
        return
    role = shop.hands(part)
    by = shop.crew(role)
    shop.move(part, part.trolley, by, 1)
    if decision == "withdrawn":
        shop.later(shop.now + 2 * MINUTE_US, "close", part.serial, by)
        return
    shop.go_on(part, decision, fault)


def close(shop: Shop, serial: str, by: str) -> None:
    """Nothing was wrong: the visit goes on and ends well."""
    part = shop.parts[serial]
    shop.tell(part, "resume", by, step=part.step.number, station=part.station)
    part.actor = by
    shop.later(shop.now + MINUTE_US, "pass", serial)


def pass_it(shop: Shop, serial: str) -> None:
    """The visit that was resumed ends well."""
    part = shop.parts[serial]
    shop.end(part, "pass", part.actor)


def witness(shop: Shop, serial: str) -> None:
    """An inspector sees the scrapped part made unusable."""
    part = shop.parts.get(serial)
    if part is not None:
        shop.tell(part, "witness", shop.crew("inspector"), how=shop.random.choice(SCRAPPED_HOW))


def send(shop: Shop) -> None:
    """Give units out, two at most, when every product has enough beyond what is kept.

    Blades are reserved as sets, which go when they are fitted; a case goes by itself.
    """
    for _ in range(2):
        free = {
            product: [part for part in stock if not part.aside and part.gone_us == 0]
            for product, stock in shop.stock.items()
        }
        plans = STARTS.items()
        if any(len(free[product]) < plan.per_unit + plan.kept for product, plan in plans):
            break
        for product, plan in plans:
            if plan.per_unit > 1:
                shop.do("reserve set", product)
                continue
            for part in free[product][: plan.per_unit]:
                part.gone_us = shop.now  # chosen; nobody takes it for another unit
                shop.later(shop.now + 12 * SECOND_US, "send one", part.serial)


def send_one(shop: Shop, serial: str) -> None:
    """One part leaves the site, unless it was set aside on the way to the door."""
    part = shop.parts[serial]
    if part.aside or part.state != DONE:
        part.gone_us = 0
        return
    shop.tell(part, "send", "supervisor", step=part.card.last)
    part.state, part.gone_us = SENT, shop.now
    shop.stock[part.card.product].remove(part)

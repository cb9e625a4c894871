"""What people look after in the invented factory: doubts, searches, priorities, shuttings."""

from __future__ import annotations

from typing import Final

from ringwright.core.calendar import HOUR_US
from ringwright.furnaces.card import LEAK
from seed_demo import furnaces
from seed_demo.faults import SURVEY_RISK, SUSPECT_LOT_RISK
from seed_demo.office import DAY_US, WEEK_US
from seed_demo.plant import DONE, LINE, SCRAP, SENT, WAY, WORK, Part
from seed_demo.shop import MINUTE_US, Shop
from seed_demo.shown import FAILS

HELD_US: Final = 8 * DAY_US + 3 * HOUR_US
"""Longer than the week from one lot in doubt to the next: one is always held."""
MIDWAY: Final = {"HF22-BLADE": (20, 110), "PT68-BLADE": (50, 120)}
"""First and last step at which parts of a lot are looked for."""
SPARE: Final = ("CMM-3", "XRY-3", "REL-2", "PEN-2", "MOM-2", "MFX-3")
"""Stations shut for care in turn, a week each; the others of their group carry on."""
RAISED_FOR: Final = ("wanted for set 41", "test stand waits", "replaces a dropped blade")


def contain(shop: Shop, serial: str, code: str) -> None:
    """The part comes into a containment: set aside if it is here, told if it is gone."""
    part = shop.parts[serial]
    if code in part.aside or part.state == WORK:
        return
    shop.tell(part, "contain", "quality-engineer", containment=code, reason=_why(code))
    part.risk = max(part.risk, SUSPECT_LOT_RISK)
    shop.set_aside(part, code)
    if part.state == SENT:
        at_us = shop.office.next_open(shop.now + 5 * HOUR_US) + 20 * MINUTE_US
        shop.later(at_us, "notice", serial, code)


def _why(code: str) -> str:
    kind = code.split("-")[1]
    return {
        "LOT": "certificate in question",
        "LEAK": "leak rate of the furnace failed",
        "RUN": "furnace run in question: a witness coupon mislaid",
        "GAUGE": "gauge found out of calibration",
    }[kind]


def notice(shop: Shop, serial: str, code: str) -> None:
    """The manager tells whoever has the sent part."""
    part = shop.parts.get(serial)
    if part is not None and code in part.aside:
        shop.tell(part, "notice-sent", "manager", containment=code, to="customer, test stand 2")


def _contain_all(shop: Shop, parts: list[Part], code: str) -> None:
    for part in parts:
        if part.state in (DONE, SENT, SCRAP) or shop.line_of(part).may_wait:
            contain(shop, part.serial, code)


def doubt(shop: Shop, product: str) -> None:
    """The material of the lot with the most parts midway is doubted."""
    lots: dict[str, list[Part]] = {}
    for part in shop.parts.values():
        if part.card.product == product:
            lots.setdefault(part.lot, []).append(part)
    first, last = MIDWAY[product]
    seen = {
        lot: sum(first <= p.step.number <= last and _waits(shop, p) for p in parts)
        for lot, parts in lots.items()
        if lot not in shop.doubted
    }
    lot = max(seen, key=lambda name: (seen[name], name), default="")
    if not lot or not seen[lot]:
        return
    code = f"C-LOT-{shop.count('containments'):03}"
    shop.doubted[lot] = code
    _contain_all(shop, lots[lot], code)
    shop.later(shop.now + HELD_US, "clear lot", lot)


def _waits(shop: Shop, part: Part) -> bool:
    return part.state in (WAY, LINE) and not part.aside and shop.line_of(part).may_wait


def clear_lot(shop: Shop, lot: str) -> None:
    """The certificate is found good; the parts of the lot go on."""
    clear(shop, shop.doubted.pop(lot), "certificate found good")


def clear(shop: Shop, code: str, why: str) -> None:
    """The containment no longer concerns any part."""
    for part in list(shop.parts.values()):
        if code in part.aside:
            shop.tell(part, "clear", "quality-engineer", containment=code, reason=why)
            shop.take_back(part, code)


def question_gauge(shop: Shop, scale: str) -> None:
    """A moment scale reads wrong: what it weighed lately is contained, gone or not."""
    code = f"C-GAUGE-{shop.count('containments'):03}"
    weighed = [part for part in shop.parts.values() if part.scale == scale]
    weighed = [part for part in weighed if part.card.product == "HF22-BLADE"]
    weighed.sort(key=lambda part: part.ready_us)
    sent = [part for part in weighed if part.state == SENT]
    stock = [part for part in weighed if part.state == DONE]
    # Weighed one after the other: the last that went out and the first still here.
    _contain_all(shop, sent[-6:] + stock[:8], code)
    why = "gauge checked against the standard: good"
    shop.later(shop.now + 4 * DAY_US + HOUR_US, "clear", code, why)


def survey(shop: Shop, name: str, out_us: int) -> None:
    """A survey or a leak test fails: what is in the stations runs out, nothing goes in."""
    group = shop.groups[name]
    group.shutting = True
    if group.cleaned_waiting:
        # Cleaned parts would miss their window; they are the last to go in.
        shop.later(shop.now + 20 * MINUTE_US, "survey", name, out_us)
        return
    hot = name == furnaces.GROUP
    if hot:
        note = "the door seal leaks; both hang on one argon line"
        furnaces.prove(shop, FAILS, LEAK, value=furnaces.FAILED_LEAK, note=note)
    for place in group.places:
        place.out = True
        why = "leak rate failed" if hot else "survey failed"
        shut(shop, place.code, why, "quality-engineer")
    shop.later(shop.now + out_us, "reopen", name)
    if hot:
        _contain_leak(shop)


def _contain_leak(shop: Shop) -> None:
    """Every blade of the runs since the leak rate was last good."""
    code = f"C-LEAK-{shop.count('containments'):03}"
    since = shop.now - 5 * DAY_US
    found = [
        part
        for part in shop.parts.values()
        if part.furnace == FAILS and part.furnace_us >= since
    ]
    for part in found:
        part.risk = max(part.risk, SURVEY_RISK)
    _contain_all(shop, found, code)
    shop.later(shop.now + 3 * DAY_US, "clear", code, "runs judged from their traces: good")


def reopen(shop: Shop, name: str) -> None:
    """What failed is passed; the group works again."""
    group = shop.groups[name]
    group.shutting = False
    hot = name == furnaces.GROUP
    for place in group.places:
        if hot:
            furnaces.prove(shop, place.code, LEAK)
        place.out = False
        why = "leak rate good" if hot else "survey passed"
        open_again(shop, place.code, why, "quality-engineer")
    shop.ring(group.lines[0])


def shut(shop: Shop, station: str, reason: str, by: str) -> None:
    """A station is shut; nothing more is begun there."""
    subject = f"station:{station}"
    shop.tell_of("shutting", subject, "shut", by, reason=reason, opener=by)


def open_again(shop: Shop, station: str, reason: str, by: str) -> None:
    """A station is open again."""
    shop.tell_of("shutting", f"station:{station}", "open", by, reason=reason)


def care(shop: Shop, station: str) -> None:
    """The supervisor shuts a station for care."""
    shop.places[station].out = True
    shut(shop, station, "yearly service", "supervisor")
    shop.later(shop.now + WEEK_US + 30 * MINUTE_US, "cared for", station)


def cared_for(shop: Shop, station: str) -> None:
    """The station works again."""
    place = shop.places[station]
    place.out = False
    open_again(shop, station, "serviced and run in", "supervisor")
    shop.ring(place.group.lines[0])


def _waiting(shop: Shop, product: str) -> list[Part]:
    """Parts that wait midway and are free, oldest first."""
    first, last = MIDWAY[product]
    return [
        part
        for part in shop.parts.values()
        if part.card.product == product
        and first <= part.step.number <= last
        and _waits(shop, part)
    ]


def hold(shop: Shop, product: str) -> None:
    """The supervisor puts a waiting part on hold for a question."""
    waiting = _waiting(shop, product)
    if waiting:
        part = shop.random.choice(waiting)
        shop.tell(part, "hold", "supervisor", reason="drawing question to the office")
        shop.set_aside(part, "hold")
        shop.later(shop.now + 22 * HOUR_US, "lift", part.serial)


def lift(shop: Shop, serial: str) -> None:
    """The hold is lifted, once no containment keeps the part."""
    part = shop.parts[serial]
    if any(why.startswith("C-") for why in part.aside):
        shop.later(shop.now + DAY_US, "lift", serial)
        return
    shop.tell(part, "unhold", "supervisor", reason="answered")
    shop.take_back(part, "hold")


def seek(shop: Shop, product: str, for_us: int) -> None:
    """A part that should be here is not; somebody looks for it until it is found."""
    waiting = _waiting(shop, product)
    if waiting:
        part = shop.random.choice(waiting)
        by = shop.crew("maker")
        shop.tell(part, "seek", by, reason="not where the trolley should have it")
        shop.set_aside(part, "search")
        shop.later(shop.now + for_us, "find", part.serial)


def find(shop: Shop, serial: str) -> None:
    """There it is."""
    part = shop.parts[serial]
    part.lies = part.trolley
    shop.tell(part, "find", shop.crew("maker"), where=part.trolley)
    shop.take_back(part, "search")


def raise_some(shop: Shop, product: str, count: int) -> None:
    """The planner lets a few parts, still far from done, go before others."""
    waiting = [part for part in _waiting(shop, product) if not part.raised]
    for part in waiting[-count:]:
        reason = shop.random.choice(RAISED_FOR)
        shop.tell(part, "prioritise", "planner", rank=1, reason=reason)
        part.raised = True
        if part.state == LINE:
            line = shop.line_of(part)
            line.leave(part)
            line.join(part)


def correct_release(shop: Shop, closed_us: int, opened_us: int) -> None:
    """A blade counted on Saturday was released on Monday in truth; the supervisor says so."""
    late = [
        part
        for part in shop.stock["HF22-BLADE"]
        if part.ready_us < closed_us and not part.aside and part.gone_us == 0
    ]
    if late:
        part = max(late, key=lambda one: one.ready_us)
        fields = {"at_us": opened_us + 9 * MINUTE_US}
        why = "the papers were signed on Monday, not on Saturday"
        shop.tell(part, "correct", "supervisor", ref=part.ended, fields=fields, reason=why)

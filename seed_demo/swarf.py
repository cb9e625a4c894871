"""The swarf of the invented factory: chips by container, lots by what they may be used for.

Nothing here draws from the story's own chance, so that the parts fare as they would without.
"""

from __future__ import annotations

from random import Random
from typing import Any, Final

from ringwright.core.calendar import HOUR_US
from ringwright.material.card import ROTATING, STATIC
from seed_demo.plant import Part
from seed_demo.shop import MINUTE_US, Shop
from seed_demo.shown import DAY_US

CASE: Final = "HF22-CASE"
CONTAINER, ALLOY, LOT, MASS = "swarf container", "alloy", "lot", "mass of a part"
TITANIUM, NICKEL = "TI64", "NI-SX"
ALLOYS: Final = (
    (TITANIUM, "Ti-6Al-4V", 4.43, ("HF22-BLADE", CASE)),
    (NICKEL, "Single-crystal nickel", 8.7, ("PT68-BLADE",)),
)
"""Code, name, density [g/cm3], products. Ti-6Al-4V: ASM data page; the other is invented."""
SCALE, SCALE_U_KG = "CSV-1", 0.4
TARE_KG: Final = 120.0
FULL_KG: Final = {"turnings": 2500.0, "offcuts": 700.0, "coupons": 60.0}
BARROW_KG: Final = 480.0
"""What one barrow of chips holds: as much is weighed at a time."""
MOISTURE, MOISTURE_U = 0.04, 0.0015
VANES_KG, WIRE_KG = 41.0, 0.4
FINISHED_KG, PER_SIZE_KG = 246.0, 2.5
OFFCUTS_KG, COUPONS_KG, AGAIN_KG = 32.0, 2.4, 1.6
SHARES: Final = {40: 0.30, 50: 0.36, 80: 0.34}
"""Of what comes off after rough turning, by step."""
LOST: Final = 0.0008
"""Dust, and chips that nobody finds."""
ASTRAY: Final = 7
"""One case in so many: a barrow of its chips was never weighed."""
MELTED_US: Final = 56 * DAY_US
REMELTED_EVERY: Final = 12
UNREGISTERED_EVERY: Final = 97
MELTER, DOWNGRADER = "Kvernes Melting", "Steel works, as addition"
FOUND_BEFORE_US: Final = 60 * HOUR_US
FOUND: Final = "a nickel chip among the titanium turnings"


def register(shop: Shop, product: str, lot: str) -> None:
    """The quality engineer registers a lot when it comes, and what it may be used for."""
    if not shop.counts.get("alloys"):
        shop.count("alloys")
        for code, name, density, products in ALLOYS:
            alloy = {"code": code, "name": name, "density_g_cm3": density,
                     "products": list(products), "withdrawn": False}  # fmt: skip
            shop.tell_of(ALLOY, code, "alloy-set", "quality-engineer", alloy=alloy)
    number = int(lot.rpartition("-")[2])
    if product == "PT68-BLADE" and number % UNREGISTERED_EVERY == 0:
        return
    sources = _melted(shop) if product == CASE and number % REMELTED_EVERY == 0 else []
    for code in sources:
        shop.tell_of(CONTAINER, code, "container-returned-as-lot", "quality-engineer", lot=lot)
    told = {
        "code": lot,
        "alloy": NICKEL if product == "PT68-BLADE" else TITANIUM,
        "heat": f"{'R' if sources else 'H'}{number * 37 % 9000 + 1000}",
        "certificate": f"HRW-M-{lot}",
        "use": STATIC if product == CASE else ROTATING,
        "containers": sources,
        "note": "remelted from our own swarf; not for what turns" if sources else "",
    }
    shop.tell_of(LOT, lot, "lot-set", "quality-engineer", lot=told)


def _melted(shop: Shop) -> list[str]:
    """The oldest containers that the melter has had for eight weeks."""
    sent = shop.bins.setdefault("sent", [])
    back = [code for code, at_us in sent if at_us <= shop.now - MELTED_US][:2]
    shop.bins["sent"] = [one for one in sent if one[0] not in back]
    return back


def collect(shop: Shop, part: Part) -> None:
    """A case leaves a station: its chips are weighed into containers."""
    if part.card.product != CASE:
        return
    step, again = part.step.number, part.visits.get(part.step.number, 0) > 1
    chance = Random(f"{part.serial}/{step}/{part.visits.get(step, 0)}")  # noqa: S311 - a story
    if step == 60:
        _put_on(shop, part, WIRE_KG if again else VANES_KG, chance)
    elif again and step in SHARES:
        _weigh_in(shop, part, "turnings", AGAIN_KG)
    elif step == 20:
        kg = part.read.get("forging_mass", 0.0) - part.read.get("mass_after_roughing", 0.0)
        _weigh_in(shop, part, "turnings", kg * (1 - LOST * chance.uniform(0.4, 1.6)))
    elif step in SHARES:
        _finish(shop, part, step, chance)


def _finish(shop: Shop, part: Part, step: int, chance: Random) -> None:
    """What a step after rough turning takes off."""
    rough = part.read.get("mass_after_roughing")
    if rough is None:
        return
    off = rough + VANES_KG - FINISHED_KG - PER_SIZE_KG * part.size
    chips = off * SHARES[step] * (1 - LOST * chance.uniform(0.4, 1.6))
    aside = {50: ("offcuts", OFFCUTS_KG), 80: ("coupons", COUPONS_KG)}.get(step)
    if aside is not None:
        _weigh_in(shop, part, *aside)
        chips -= aside[1]
    if step == 40 and int(part.serial[-4:]) % ASTRAY == 3:
        chips *= 0.7
    _weigh_in(shop, part, "turnings", chips)


def _put_on(shop: Shop, part: Part, kg: float, chance: Random) -> None:
    what = "vanes" if kg == VANES_KG else "filler wire"
    shop.tell_of(
        MASS, part.serial, "material-added", part.actor, step=60, what=what,
        net_kg=round(kg + chance.gauss(0.0, 0.05), 1), u_kg=SCALE_U_KG, gauge=SCALE,
    )  # fmt: skip


def _weigh_in(shop: Shop, part: Part, kind: str, dry_kg: float) -> None:
    """Barrow by barrow into the open container of the kind."""
    wet = kind == "turnings"
    while dry_kg >= 0.05:
        bin_ = _open_bin(shop, kind)
        share = bin_["share"] if wet else 0.0
        load = min(dry_kg, BARROW_KG)
        dry_kg -= load
        net_kg = round(load / (1.0 - share), 1)
        if net_kg <= 0.0:
            return
        shop.tell_of(
            CONTAINER, bin_["code"], "swarf-added", part.actor, serial=part.serial,
            step=part.step.number, net_kg=net_kg, u_kg=SCALE_U_KG, wet=wet, gauge=SCALE,
        )  # fmt: skip
        bin_["kg"] += net_kg
        if bin_["kg"] >= FULL_KG[kind]:
            _close(shop, kind)


def _open_bin(shop: Shop, kind: str) -> dict[str, Any]:
    """The container that takes it; the next one where there is none."""
    found: dict[str, Any] | None = shop.bins.get(kind)
    if found is not None:
        return found
    code = f"BIN-{shop.count('bins'):04}"
    chance = Random(code)  # noqa: S311 - a story
    shop.tell_of(
        CONTAINER, code, "container-opened", "supervisor", alloy=TITANIUM, swarf=kind,
        tare_kg=TARE_KG, tare_u_kg=SCALE_U_KG, place="Case shop, chip bay",
        moisture=MOISTURE if kind == "turnings" else 0.0,
        moisture_u=MOISTURE_U if kind == "turnings" else 0.0,
    )  # fmt: skip
    true = MOISTURE + chance.gauss(0.0, MOISTURE_U * 0.8)
    shop.bins[kind] = {"code": code, "kg": 0.0, "share": round(true, 5)}
    made: dict[str, Any] = shop.bins[kind]
    return made


def _close(shop: Shop, kind: str) -> None:
    """It is full: weighed and sealed at once, and sent by the office."""
    bin_ = shop.bins.pop(kind)
    _weigh_and_seal(shop, bin_["code"], bin_["kg"])
    shop.later(shop.office.next_open(shop.now + 18 * HOUR_US), "send swarf", bin_["code"], 1)


def _weigh_and_seal(shop: Shop, code: str, kg: float) -> None:
    full_kg = round(TARE_KG + kg + Random(f"full {code}").gauss(0.0, SCALE_U_KG), 1)  # noqa: S311
    shop.tell_of(
        CONTAINER, code, "container-weighed", "supervisor", full_kg=full_kg,
        u_kg=SCALE_U_KG, gauge=SCALE,
    )  # fmt: skip
    shop.tell_of(CONTAINER, code, "container-sealed", "supervisor")


def send(shop: Shop, code: str, melts: int) -> None:
    """It goes to the melter, or downgraded where it is mixed."""
    paper = f"HRW-W-{int(code[-4:]) + 2000}"
    shop.tell_of(
        CONTAINER, code, "container-sent", "supervisor",
        to=MELTER if melts else DOWNGRADER, paper=paper, melts=bool(melts),
    )  # fmt: skip
    if melts:
        shop.bins.setdefault("sent", []).append([code, shop.now])


def plan(shop: Shop, start_us: int, end_us: int) -> None:
    """Shortly before the demo is first seen a container is found mixed."""
    at_us = shop.shown.shown_us - FOUND_BEFORE_US
    if start_us <= at_us < end_us:
        shop.later(at_us - at_us % MINUTE_US, "find mixed")


def find_mixed(shop: Shop) -> None:
    """Nothing goes in any more; it is sentenced a week later. Looked for until one is there."""
    if "turnings" not in shop.bins:
        shop.later(shop.now + 2 * HOUR_US, "find mixed")
        return
    bin_ = shop.bins.pop("turnings")
    code = bin_["code"]
    shop.tell_of(CONTAINER, code, "container-found-mixed", "inspector", reason=FOUND)
    at_us = shop.office.next_open(shop.now + 6 * DAY_US)
    shop.later(at_us, "sentence mixed", code, bin_["kg"])


def sentence_mixed(shop: Shop, code: str, kg: float) -> None:
    """It is weighed, sealed and goes as downgraded."""
    _weigh_and_seal(shop, code, kg)
    shop.later(shop.office.next_open(shop.now + 20 * HOUR_US), "send swarf", code, 0)

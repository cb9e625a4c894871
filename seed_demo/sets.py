"""How the invented factory builds its sets: chosen, reserved, handed over, fitted, sent.

The planner's rule is a plain one that needs no library, so that the story is the same on every
machine: blades alike in frequency, pairs alike in moment on diameters, each pair where it takes
most away of what the others leave. The builder does better, and the demo shows how much.
"""

from __future__ import annotations

import cmath
import math
from itertools import combinations
from typing import Any, Final

from ringwright.core.calendar import HOUR_US, SECOND_US
from seed_demo.faults import STARTS
from seed_demo.gauges import uncertainty_of
from seed_demo.plant import SENT, Part
from seed_demo.shop import MINUTE_US, Shop

FAN, TURBINE = "HF22-BLADE", "PT68-BLADE"
ROTORS: Final[dict[str, dict[str, Any]]] = {
    FAN: {
        "mass_kg": 410.0, "speed_rpm": 4200.0, "grade_mm_s": 6.3, "share_g_mm": 4000.0,
        "moment_u_g_mm": 60.0, "slot_angle_u_deg": 0.01, "view": "front", "clockwise": True,
        "frequency_spread_hz": 6.5,
        "positions": 44, "position_radius_mm": 240.0, "masses_g": [1.0, 2.0, 3.0, 5.0, 8.0],
    },
    TURBINE: {
        "mass_kg": 96.0, "speed_rpm": 9800.0, "grade_mm_s": 2.5, "share_g_mm": 120.0,
        "moment_u_g_mm": 4.0, "view": "rear", "clockwise": True,
    },
}  # fmt: skip
"""Invented, as the factory is."""
STEM: Final = {FAN: "HF22-S", TURBINE: "PT68-S"}
AHEAD_US: Final = 30 * HOUR_US
"""A set is reserved so long before it is handed over."""
A_BLADE_US: Final = {FAN: 70 * SECOND_US, TURBINE: 40 * SECOND_US}
FIRST_DAY: Final = {FAN: 14, TURBINE: 40}
"""Slots fitted on the first day; the rest on the next."""
NIGHT_US: Final = 17 * HOUR_US
WAITS: Final = 4
"""Half days that a set with a doubtful blade waits before it is mended."""
GIVEN_BACK, SWAPPED = 6, 9
"""The fan set that was given back, and the one with two blades in each other's slots."""
SWAP: Final = {5: 6, 6: 5}


def enter_rotors(shop: Shop) -> None:
    """The rotor engineer enters what is known of the rotors."""
    for product, rotor in ROTORS.items():
        why = "from the rotor's data sheet, issue 3"
        shop.tell_of("rotor", product, "rotor-set", "design-authority", rotor=rotor, reason=why)


def free_blades(shop: Shop, product: str) -> list[Part]:
    """Finished blades that no set has, and nothing is open against."""
    return [
        part
        for part in shop.stock[product]
        if not part.aside and part.gone_us == 0 and "moment" in part.read
    ]


def reserve(shop: Shop, product: str) -> None:
    """The planner chooses blades alike, orders them and keeps them for a set."""
    count = STARTS[product].per_unit
    free = free_blades(shop, product)
    if len(free) < count:
        return
    blades = ordered(alike(free[: count * 3], count))
    code = f"{STEM[product]}{shop.count('sets ' + product):03d}"
    serials = [part.serial for part in blades]
    shop.sets[code] = {"product": product, "slots": serials, "fitted": []}
    shop.tell_of(
        "set", code, "reserve", "planner",
        product=product, slots=list(serials), readings=_readings(blades),
    )  # fmt: skip
    for slot, part in enumerate(blades, 1):
        part.gone_us = shop.now
        shop.tell(part, "reserve", "planner", set=code, slot=slot)
    shop.later(shop.now + AHEAD_US, "hand over set", code)


def alike(free: list[Part], count: int) -> list[Part]:
    """So many blades of the least spread: in frequency, or in moment where none is read."""
    role = "frequency" if all("frequency" in part.read for part in free) else "moment"
    ranked = sorted(free, key=lambda part: (part.read[role], part.serial))
    spans = [
        (ranked[n + count - 1].read[role] - ranked[n].read[role], n)
        for n in range(len(ranked) - count + 1)
    ]
    first = min(spans)[1]
    return ranked[first : first + count]


def ordered(blades: list[Part]) -> list[Part]:
    """Pairs alike on diameters, where they take most away; then exchanged till it is enough."""
    ranked = sorted(blades, key=lambda part: (-part.read["moment"], part.serial))
    half = len(ranked) // 2
    pairs = [(ranked[2 * n], ranked[2 * n + 1]) for n in range(half)]
    pairs.sort(key=lambda pair: (-abs(_moment(pair[0]) - _moment(pair[1])), pair[0].serial))
    turn = [cmath.exp(1j * math.pi * n / half) for n in range(2 * half)]
    slots: list[Part | None] = [None] * len(ranked)
    left = 0j
    for pair in pairs:
        gap = _moment(pair[0]) - _moment(pair[1])
        free = [n for n in range(2 * half) if slots[n] is None]
        slot = min(free, key=lambda n: (round(abs(left + gap * turn[n]), 3), n))
        left += gap * turn[slot]
        slots[slot], slots[(slot + half) % (2 * half)] = pair
    return _exchanged([part for part in slots if part is not None], turn)


def _moment(part: Part) -> complex:
    """Radial plus i times tangential."""
    return complex(part.read["moment"], part.read.get("tangential", 0.0))


def _exchanged(blades: list[Part], turn: list[complex]) -> list[Part]:
    """Two blades change slots while that takes much away; a thousandth of a blade is enough."""
    moments = [_moment(part) for part in blades]
    mean = sum(moments) / len(moments)
    enough = 2e-4 * abs(mean)
    left = sum((m - mean) * t for m, t in zip(moments, turn, strict=True))
    while abs(left) > enough:
        ways = [
            (round(abs(left + (moments[b] - moments[a]) * (turn[a] - turn[b])), 3), a, b)
            for a, b in combinations(range(len(blades)), 2)
        ]
        size, a, b = min(ways)
        if size > 0.98 * abs(left):
            break
        left += (moments[b] - moments[a]) * (turn[a] - turn[b])
        moments[a], moments[b] = moments[b], moments[a]
        blades[a], blades[b] = blades[b], blades[a]
    return blades


def _readings(blades: list[Part]) -> dict[str, dict[str, float]]:
    """Serial to its readings by role, with what the moment is worth."""
    sure = {"moment_u": uncertainty_of("moment-scale", "g_mm") or 0.0}
    return {part.serial: {**dict(sorted(part.read.items())), **sure} for part in blades}


def _parts(shop: Shop, code: str) -> list[Part]:
    return [shop.parts[serial] for serial in shop.sets[code]["slots"]]


def hand_over(shop: Shop, code: str) -> None:
    """The set goes to build, mended first where it lacks blades; one was given back once."""
    kept = shop.sets[code]
    if code == f"{STEM[FAN]}{GIVEN_BACK:03d}":
        why = "the customer moved this rotor behind the next one"
        shop.tell_of("set", code, "give-back", "planner", reason=why)
        for part in _parts(shop, code):
            part.gone_us = 0
            shop.tell(part, "give-back", "planner", set=code, reason=why)
        del shop.sets[code]
        return
    doubted = any(part.aside for part in _parts(shop, code))
    if doubted and kept.setdefault("waits", WAITS):
        kept["waits"] -= 1  # it may be cleared soon
        shop.later(shop.now + 12 * HOUR_US, "hand over set", code)
        return
    if not mend(shop, code):
        shop.later(shop.now + 12 * HOUR_US, "hand over set", code)
        return
    bay = 1 + shop.count("bays") % 2
    shop.tell_of("set", code, "hand-over", "planner", to=f"Build bay {bay}")
    shop.later(shop.now + 2 * HOUR_US, "fit slot", code, 1)
    kept["bay"] = bay


def question_run(shop: Shop, for_us: int) -> None:
    """A furnace run is in doubt: two of its blades stand in the newest set that is reserved."""
    newest = [
        code
        for code, kept in shop.sets.items()
        if kept["product"] == FAN and "bay" not in kept
        and not any(part.aside for part in _parts(shop, code))
    ]  # fmt: skip
    if not newest:
        return
    runs: dict[tuple[str, int], list[Part]] = {}
    for part in _parts(shop, max(newest)):
        runs.setdefault((part.furnace, part.furnace_us), []).append(part)
    found = max(runs.values(), key=lambda parts: (len(parts), parts[0].serial))[:2]
    code = f"C-RUN-{shop.count('containments'):03}"
    for part in found:
        shop.do("contain", part.serial, code)
    shop.later(shop.now + for_us, "clear", code, "the coupon is found, and good")


def mend(shop: Shop, code: str) -> bool:
    """Blades that are set aside give way to the free ones nearest in moment; False: none is."""
    kept = shop.sets[code]
    lost = [p for p in _parts(shop, code) if p.aside and p.serial not in kept["fitted"]]
    if not lost:
        return True
    free = free_blades(shop, kept["product"])
    if len(free) < len(lost):
        return False
    came = {}
    for part in lost:
        near = min(
            free, key=lambda one: (abs(one.read["moment"] - part.read["moment"]), one.serial)
        )
        free.remove(near)
        came[part.serial] = near
    slots = [came[s].serial if s in came else s for s in kept["slots"]]
    why = "held blades replaced from stock"
    blades = [shop.parts[serial] for serial in slots]
    shop.tell_of(
        "set", code, "mend", "planner",
        slots=list(slots), readings=_readings(blades), reason=why,
    )  # fmt: skip
    for part in lost:
        part.gone_us = 0
        shop.tell(part, "give-back", "planner", set=code, reason=why)
    for slot, serial in enumerate(slots, 1):
        if serial not in kept["slots"]:
            shop.parts[serial].gone_us = shop.now
            shop.tell(shop.parts[serial], "reserve", "planner", set=code, slot=slot)
    kept["slots"] = slots
    return True


def fit_slot(shop: Shop, code: str, slot: int) -> None:
    """A maker scans a blade into its slot; two were once put into each other's."""
    kept = shop.sets[code]
    if not mend(shop, code):
        shop.later(shop.now + 8 * HOUR_US, "fit slot", code, slot)
        return
    product = kept["product"]
    swap = SWAP if code == f"{STEM[FAN]}{SWAPPED:03d}" and not kept.get("righted") else {}
    serial = kept["slots"][swap.get(slot, slot) - 1]
    _fit(shop, code, slot, serial)
    if swap and slot == max(SWAP):
        shop.later(shop.now + 3 * MINUTE_US, "right slots", code)
        return
    _go_on(shop, code, slot, A_BLADE_US[product])


def _fit(shop: Shop, code: str, slot: int, serial: str) -> None:
    by = shop.crew("maker")
    shop.sets[code]["fitted"].append(serial)
    shop.tell_of("set", code, "fit", by, slot=slot, serial=serial)
    shop.tell(shop.parts[serial], "fit", by, set=code, slot=slot)


def _go_on(shop: Shop, code: str, slot: int, after_us: int) -> None:
    kept = shop.sets[code]
    if slot == len(kept["slots"]):
        shop.later(shop.now + 5 * HOUR_US, "send set", code)
        return
    night = NIGHT_US if slot == FIRST_DAY[kept["product"]] else 0
    shop.later(shop.now + after_us + night, "fit slot", code, slot + 1)


def right_slots(shop: Shop, code: str) -> None:
    """The vector told them: two blades stand in each other's slots and are changed."""
    kept, by = shop.sets[code], shop.crew("maker")
    why = "stood in each other's slots"
    for slot, planned in sorted(SWAP.items()):
        serial = kept["slots"][planned - 1]
        shop.tell_of("set", code, "return", by, slot=slot, serial=serial, reason=why)
        shop.tell(shop.parts[serial], "return", by, set=code, slot=slot, reason=why)
        kept["fitted"].remove(serial)
    kept["righted"] = 1
    for slot in sorted(SWAP):
        _fit(shop, code, slot, kept["slots"][slot - 1])
    _go_on(shop, code, max(SWAP), A_BLADE_US[kept["product"]])


def send_set(shop: Shop, code: str) -> None:
    """The set leaves with its rotor, once nothing holds a blade of it."""
    kept = shop.sets[code]
    blades = _parts(shop, code)
    if any(part.aside for part in blades):
        shop.later(shop.now + 12 * HOUR_US, "send set", code)
        return
    shop.tell_of("set", code, "send", "supervisor")
    for part in blades:
        shop.tell(part, "send", "supervisor", step=part.card.last)
        part.state, part.gone_us = SENT, shop.now
        shop.stock[kept["product"]].remove(part)
    del shop.sets[code]

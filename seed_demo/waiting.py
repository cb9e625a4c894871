"""A cleaned blade that a question keeps back until its window is over: cleaned once more."""

from __future__ import annotations

from typing import Final

from ringwright.core.calendar import HOUR_US
from seed_demo import office
from seed_demo.faults import Fault
from seed_demo.plant import Part
from seed_demo.shop import MINUTE_US, Shop

CLEANED, INFLATED = 60, 70
"""Steps of HF22-BLADE."""
LATE: Final = Fault("window ran out", 0.0, "rework", "RW-CLEAN")


def cleaned(shop: Shop, part: Part) -> None:
    """The first blade cleaned at a certain hour is held for a question, its window running."""
    begin, end = shop.shown.kept_back
    here = part.card.product == "HF22-BLADE" and part.step.number == INFLATED
    first = part.visits.get(CLEANED) == 1 and not part.visits.get(INFLATED)
    soon = begin <= shop.now < end
    if not (here and first and soon) or shop.counts.get("kept back"):
        return
    shop.count("kept back")
    shop.one_is_kept_back()
    window = part.step.window
    assert window is not None
    shop.tell(part, "hold", "supervisor", reason="drawing question to the office")
    shop.set_aside(part, "hold")
    shop.set_aside(part, "window")
    shop.later(shop.shown.shown_us + 10 * MINUTE_US, "lift", part.serial)
    over_us = shop.now + round(window.max_hours * HOUR_US)
    shop.later(over_us + 3 * MINUTE_US, "window over", part.serial)


def window_over(shop: Shop, serial: str) -> None:
    """Nothing took it in time; it may not go in as it is."""
    part = shop.parts[serial]
    part.stop = part.told
    why = "both furnaces were out of reach until its window was over"
    shop.tell(part, "stop", "supervisor", defect=LATE.defect, step=INFLATED, reason=why)
    at_us = shop.office.next_open(shop.now + 2 * HOUR_US) + 20 * MINUTE_US
    shop.later(at_us, "sentence window", serial)


def sentence_window(shop: Shop, serial: str) -> None:
    """It is cleaned again, and goes in then."""
    part = shop.parts[serial]
    part.aside.remove("window")
    office.decide(shop, part, LATE, "rework")

"""What the Starts page is asked: sets, spares, a day, how sure, and yields typed in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from ringwright.core.calendar import site_time
from ringwright.core.errors import Refused
from ringwright.core.instants import midnight_us
from ringwright.ledger.service import Read
from ringwright.routecards.card import RouteCard

MOST_SETS: Final = 500
MOST_SPARES: Final = 5_000
USUAL_SURE: Final = 0.9
AHEAD_DAYS: Final = 14
"""Where no day is named: the planned way of a part, and so many days to start them in."""
YEARS: Final = range(1970, 2200)
_YIELD: Final = re.compile(r"yield_(\d{1,9})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The question; `day` is an ISO date of the site, by the end of which they are wanted."""

    product: str = ""
    sets: int = 1
    spares: int = 0
    day: str = ""
    sure: float = USUAL_SURE
    yields: Mapping[int, float] = field(default_factory=dict)
    """Step number to the yield taken for it, instead of what was counted."""

    @property
    def kept(self) -> dict[str, str]:
        """What an address of the page carries on."""
        found = {"sets": str(self.sets), "spares": str(self.spares), "day": self.day}
        found["sure"] = f"{self.sure * 100:g}"
        typed = {f"yield_{step}": f"{y * 100:g}" for step, y in self.yields.items()}
        return {name: value for name, value in (found | typed).items() if value}


def asked_of(given: Mapping[str, str]) -> Asked:
    """The question of an address; raises Refused in words."""
    return Asked(
        product=given.get("product", ""),
        sets=_whole(given, "sets", 1, (1, MOST_SETS)),
        spares=_whole(given, "spares", 0, (0, MOST_SPARES)),
        day=_day(given.get("day", "").strip()),
        sure=_percent("how sure", given.get("sure", ""), USUAL_SURE, (0.5, 0.999)),
        yields={
            int(found[1]): _percent(f"the yield of step {found[1]}", text, 1.0, (0.001, 1.0))
            for name, text in given.items()
            if text.strip() and (found := _YIELD.fullmatch(name))
        },
    )


def _whole(given: Mapping[str, str], name: str, usual: int, limits: tuple[int, int]) -> int:
    text = given.get(name, "").strip()
    if not text:
        return usual
    low, high = limits
    if not (text.isascii() and text.isdigit() and len(text) < 9 and low <= int(text) <= high):
        raise Refused(f"{name} is a whole number from {low} to {high}")
    return int(text)


def _percent(what: str, text: str, usual: float, limits: tuple[float, float]) -> float:
    plain = text.strip().replace(",", ".").rstrip("%").strip()
    if not plain:
        return usual
    low, high = limits
    known = re.fullmatch(r"\d{1,3}(\.\d{1,6})?", plain)
    if not known or not low <= float(plain) / 100 <= high:
        raise Refused(f"{what} is a percentage from {low * 100:g} to {high * 100:g}")
    return float(plain) / 100


def _day(text: str) -> str:
    if not text:
        return ""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise Refused(f"{text[:40]!r} is no day; write it as 2026-12-24") from None
    if day.year not in YEARS:
        raise Refused(f"{text} is outside the calendar: {YEARS[0]} to {YEARS[-1]}")
    return day.isoformat()


def due_us_of(asked: Asked, read: Read, card: RouteCard) -> int:
    """The end of the day asked about, or of one that leaves time for a part's whole way.

    Raises Refused for a day at the end of the calendar.
    """
    zone = read.site.zone
    day = date.fromisoformat(asked.day) if asked.day else None
    if day is None:
        today = site_time(read.now_us, zone).date()
        day = today + timedelta(days=AHEAD_DAYS, hours=card.plan_h)
    try:
        return midnight_us((day + timedelta(days=1)).isoformat(), zone)
    except ValueError as trouble:
        raise Refused(f"{day.isoformat()} is too late a day: {trouble}") from None

"""Authorisations of the invented factory's inspectors, and whom it calls at night."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

from ringwright.sites.site import Authorisation

TESTERS: Final = ("inspector", *(f"inspector-{n}" for n in range(2, 10)))
METHODS: Final = ("RT", "UT", "PT")
ENDS: Final = {("inspector-5", "UT"): 24}
"""Days from the opening of the demo until a paper ends; the others last for years."""
EYES_END: Final = {"inspector-4": 9, "inspector-8": 27}
"""The same for eyesight tests; the others last for most of a year."""
FIRST_DAYS: Final = 1_000

CALLED: Final = {
    "supervisor": ("supervisor",),
    "quality-engineer": ("quality-engineer",),
    "design-authority": ("design-authority",),
    "manager": ("manager",),
}
"""Role to who is called for it."""
PHONES: Final = {
    "supervisor": "01632 960101",
    "quality-engineer": "01632 960102",
    "design-authority": "01632 960103",
    "manager": "01632 960104",
}
"""Numbers that are nobody's: of the range kept free for invented stories (from memory)."""


def demo_papers(today: date) -> tuple[Authorisation, ...]:
    """What each inspector may test, some of it about to lapse, counted from that day."""
    return tuple(
        Authorisation(
            person=person,
            method=method,
            level=3 if person == "inspector-3" else 2,
            valid_from=_day(today, 40 * place - FIRST_DAYS),
            valid_to=_day(today, ENDS.get((person, method), 300 + 40 * place)),
            eyesight_to=_day(today, EYES_END.get(person, 170 + 20 * place)),
            certificate=f"HRW-{method}-{place + 1:02}",
        )
        for place, person in enumerate(TESTERS)
        for method in METHODS
    )


def _day(today: date, days: int) -> str:
    return (today + timedelta(days=days)).isoformat()

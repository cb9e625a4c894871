"""What crews of the invented factory tell each other at the end of every other shift."""

from __future__ import annotations

from typing import Final

from ringwright.core.calendar import HOUR_US, iso_text
from seed_demo.shop import MINUTE_US, Shop

KIND: Final = "shift"
BEFORE_END_US: Final = 14 * MINUTE_US
AFTER_START_US: Final = 6 * MINUTE_US
NOTES: Final[tuple[tuple[str, str, str], ...]] = (
    ("maker", "", "Clean line 2 drips at the third rinse; the tray was emptied at the end."),
    (
        "inspector",
        "inspector",
        "The portable arm CMG-9 is overdue. Use the bridge in the measuring room until it is "
        "back.",
    ),
    (
        "maker",
        "",
        "Two trolleys stand before the weighing room door; they go on when it opens.",
    ),
    (
        "inspector",
        "quality-engineer",
        "Parts in the cage wait for a sentence; their numbers hang on the cage door.",
    ),
    (
        "maker",
        "maker",
        "The argon bottles at the inflation furnaces were changed and leak-tested. The log "
        "hangs at the board.",
    ),
)
"""Who writes it, for which role, what it says; a shift after another takes the next."""


def hand_over(shop: Shop, turn: int) -> None:
    """A shift begins: whether it will leave a note at its end is known by its turn."""
    if turn % 2:
        return
    start_us = shop.now - MINUTE_US
    crew, end_us = shop.hours.turn(shop.now)
    shop.later(end_us - BEFORE_END_US, "leave note", start_us, crew)


def leave_note(shop: Shop, start_us: int, crew: int) -> None:
    """Shortly before its end, what the next one must know."""
    role, for_role, text = NOTES[(shop.count("shift notes") - 1) % len(NOTES)]
    subject = iso_text(start_us, shop.zone)
    about = {"for_role": for_role} if for_role else {}
    by = shop.first_of(role, crew)
    shop.tell_of(KIND, subject, "handover-noted", by, text=text, **about)
    opened_us = shop.hours.next_open(shop.now + BEFORE_END_US)
    taken_us = opened_us + AFTER_START_US
    if for_role == "quality-engineer":
        taken_us = shop.office.next_open(opened_us + HOUR_US) + AFTER_START_US
    shop.later(taken_us, "take note", subject, for_role)


def take_note(shop: Shop, subject: str, for_role: str) -> None:
    """The first of the shift that came reads it and takes it over."""
    crew = shop.hours.turn(shop.now)[0]
    by = for_role if for_role == "quality-engineer" else ""
    by = by or shop.first_of(for_role or "maker", crew)
    shop.tell_of(KIND, subject, "handover-taken", by, notes=[0])

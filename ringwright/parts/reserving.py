"""A part and its set: kept for one, fitted in a slot, taken out, given back.

Whether a blade may enter a set is asked when the set is reserved. What stands in the record is
taken as it comes here: a release that is revoked later leaves the reservation to be seen, and
to be given back by a person.
"""

from __future__ import annotations

from typing import Final

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.parts.conditions import begin_condition, end_condition
from ringwright.parts.rows import ConditionRow
from ringwright.parts.state import FITTED, IN_WORK, RELEASED, Part

RESERVATION: Final = "reservation"
"""Condition: kept for the set `value`, for its slot `note`."""
IN_SLOT: Final = "fitted"
"""Condition: fitted in the set `value`, in its slot `note`."""
OF_SETS: Final = frozenset({"reserve", "give-back", "fit", "return"})
"""Facts that a set books on its blades; they are undone by one another, never corrected."""


def reserve(part: Part, entry: Entry) -> None:
    """The part is kept for a set; the same set again moves it to another slot."""
    code = entry.data["set"]
    there = part.open_condition(RESERVATION)
    if there is not None and there.value != code:
        raise Refused(f"{part.serial} is reserved for {there.value}")
    if part.place in (FITTED, IN_WORK):
        raise Refused(f"{part.serial} is {part.place}; it cannot be reserved")
    end_condition(there, entry)
    _begin(part, entry, RESERVATION)


def give_back(part: Part, entry: Entry) -> None:
    """The part is free for another set."""
    if part.open_condition(IN_SLOT) is not None:
        raise Refused(f"{part.serial} is fitted; take it out of its slot first")
    end_condition(_reserved_for(part, entry), entry)


def fit(part: Part, entry: Entry) -> None:
    """The part stands in a slot of its set's disc."""
    _reserved_for(part, entry)
    if part.place != RELEASED:
        raise Refused(f"{part.serial} is {part.place}, not released; it cannot be fitted")
    if part.open_hold is not None:
        raise Refused(
            f"{part.serial} is on hold ({part.open_hold.reason}); it cannot be fitted"
        )
    part.place = FITTED
    _begin(part, entry, IN_SLOT)


def take_out(part: Part, entry: Entry) -> None:
    """The part lies on the bench again, kept for its set still."""
    there = part.open_condition(IN_SLOT, entry.data["set"])
    if there is None or there.note != str(entry.data["slot"]):
        raise Refused(
            f"{part.serial} does not stand in slot {entry.data['slot']} of {entry.data['set']}"
        )
    end_condition(there, entry)
    part.place = RELEASED


def _reserved_for(part: Part, entry: Entry) -> ConditionRow:
    code = entry.data["set"]
    there = part.open_condition(RESERVATION, code)
    if there is None:
        raise Refused(f"{part.serial} is not reserved for {code}")
    return there


def _begin(part: Part, entry: Entry, kind: str) -> None:
    begin_condition(part, entry, kind, entry.data["set"], str(entry.data["slot"]))

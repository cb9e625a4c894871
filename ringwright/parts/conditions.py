"""What else is so about a part: where it lies, a search, a priority, a containment."""

from __future__ import annotations

from typing import Final

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.parts.moves import lift_hold, put_on_hold
from ringwright.parts.rows import ConditionRow
from ringwright.parts.state import SCRAPPED, SENT, Part

WHEREABOUTS: Final = "whereabouts"
PRIORITY: Final = "priority"
SEARCH: Final = "search"
CONTAINMENT: Final = "containment"
NOTICE: Final = "notice"

IN_HAND: Final = frozenset(
    {"begin", "pause", "resume", "end", "measure", "move", "find", "stop", "send", "witness"}
)
"""Whoever books one of these has the part before them: a search for it is over."""


def begin_condition(
    part: Part, entry: Entry, kind: str, value: str, note: str | None = None, place: int = 0
) -> None:
    """From now on this is so about the part."""
    part.conditions.append(
        ConditionRow(
            number=entry.seq * 10 + place,
            kind=kind,
            value=value,
            note=note,
            actor=entry.actor,
            from_us=entry.at_us,
            from_known_us=entry.known_us,
            known_from_us=entry.known_us,
        )
    )


def end_condition(row: ConditionRow | None, entry: Entry) -> None:
    """It is so no longer, if it was."""
    if row is not None:
        row.to_us, row.to_known_us = entry.at_us, entry.known_us


def move(part: Part, entry: Entry) -> None:
    """The part lies somewhere else now."""
    _lies(part, entry, entry.data["to"])


def _lies(part: Part, entry: Entry, where: str, place: int = 0) -> None:
    end_condition(part.open_condition(WHEREABOUTS), entry)
    part.whereabouts = where
    begin_condition(part, entry, WHEREABOUTS, where, entry.data.get("reason"), place)


def leave_site(part: Part, entry: Entry) -> None:
    """The part is sent: it lies nowhere here any more, and goes before nobody."""
    end_condition(part.open_condition(WHEREABOUTS), entry)
    end_condition(part.open_condition(PRIORITY), entry)
    part.whereabouts, part.priority = None, 0


def prioritise(part: Part, entry: Entry) -> None:
    """The part goes before others, or no longer does."""
    rank, there = entry.data["rank"], part.open_condition(PRIORITY)
    if rank == 0 and there is None:
        raise Refused(f"{part.serial} has no priority to take back")
    if rank and there is not None and there.value == str(rank):
        raise Refused(f"{part.serial} has that priority already")
    end_condition(there, entry)
    part.priority = rank
    if rank:
        begin_condition(part, entry, PRIORITY, str(rank), entry.data.get("reason"))


def seek(part: Part, entry: Entry) -> None:
    """Somebody looks for the part; its last whereabouts are kept with the search."""
    if part.sought:
        raise Refused(f"{part.serial} is looked for already")
    part.sought = True
    begin_condition(part, entry, SEARCH, part.whereabouts or "", entry.data.get("reason"))


def find(part: Part, entry: Entry) -> None:
    """The part that was looked for lies here."""
    if not part.sought:
        raise Refused(f"nobody looks for {part.serial}; move it instead")
    _lies(part, entry, entry.data["where"], 1)


def end_search(part: Part, entry: Entry) -> None:
    """The part is in somebody's hands again."""
    part.sought = False
    end_condition(part.open_condition(SEARCH), entry)


def contain(part: Part, entry: Entry) -> None:
    """Hold the part if it is here; open a notice if it is sent; note it if it is scrapped."""
    code, reason = entry.data["containment"], entry.data.get("reason")
    if part.open_condition(CONTAINMENT, code) is not None:
        raise Refused(f"{part.serial} is in containment {code} already")
    begin_condition(part, entry, CONTAINMENT, code, reason)
    if part.place == SENT:
        begin_condition(part, entry, NOTICE, code, None, 1)
    elif part.place != SCRAPPED and part.open_hold is None:
        put_on_hold(part, entry, f"containment {code}: {reason or 'no reason recorded'}")


def clear(part: Part, entry: Entry) -> None:
    """The containment no longer concerns the part; what it placed is taken back."""
    code = entry.data["containment"]
    row = part.open_condition(CONTAINMENT, code)
    if row is None:
        raise Refused(f"{part.serial} is not in containment {code}")
    end_condition(row, entry)
    end_condition(part.open_condition(NOTICE, code), entry)
    lift_if_free(part, entry)


def notice_sent(part: Part, entry: Entry) -> None:
    """Whoever has the part was told; the notice keeps to whom it went."""
    row = part.open_condition(NOTICE, entry.data["containment"])
    if row is None:
        raise Refused(f"{part.serial} has no open notice of {entry.data['containment']}")
    row.note = entry.data["to"]
    end_condition(row, entry)


def lift_if_free(part: Part, entry: Entry) -> None:
    """Lift a hold that a stop or containment placed, once none of them is open any more.

    One that somebody placed for another reason stays.
    """
    hold = part.open_hold
    if hold is None or part.open_nonconformities or part.open_condition(CONTAINMENT):
        return
    placed = {row.number for row in part.nonconformities}
    placed.update(row.number // 10 for row in part.conditions if row.kind == CONTAINMENT)
    if hold.number in placed:
        lift_hold(part, entry)

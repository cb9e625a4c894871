"""Leave a note for the next shift, and take notes over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Final

from ringwright.core.errors import Missing, Refused
from ringwright.core.instants import iso_text, parse_instant
from ringwright.handover.facts import KIND, HandoverNoted, HandoverTaken
from ringwright.handover.queries import notes_by_number
from ringwright.handover.rules import (
    Span,
    check_for_role,
    check_taking,
    check_when,
    checked_note,
    span_at,
)
from ringwright.ledger.service import Handling, read_within
from ringwright.ledger.transaction import Draft, Tx, check_code
from ringwright.parts.queries import resolve_serial
from ringwright.people.allowing import allows
from ringwright.sites.queries import read_calendars

PERMISSION: Final = "hand over a shift"
MOST_TAKEN: Final = 200
"""Notes taken over at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaveNote:
    """Tell the next shift something."""

    operation: ClassVar[str] = "leave note"
    shift: str
    """An instant within the shift it belongs to, ISO 8601."""
    text: str
    key: str | None
    for_role: str = ""
    serial: str = ""

    def body(self) -> Any:
        """All fields but the key."""
        return {name: getattr(self, name) for name in ("shift", "text", "for_role", "serial")}

    def subject(self) -> str:
        """The shift."""
        return self.shift


def leave_note(tx: Tx, command: LeaveNote) -> dict[str, Any]:
    """Record it on the shift that holds the instant."""
    text = checked_note(command.text)
    check_for_role(command.for_role)
    span = _span(tx, command.shift)
    subject = iso_text(span.start_us, tx.site.zone)
    history = tx.history(KIND, subject)
    check_when(span, tx.now_us, sum(one.kind == HandoverNoted.kind for one in history))
    fact = HandoverNoted(
        text=text, for_role=command.for_role or None, serial=_part(tx, command.serial) or None
    )
    entry = tx.append(Draft(fact=fact, subject=subject, at_us=tx.now_us), history)
    return {"entry": entry.seq, "shift": subject}


def _span(tx: Tx, shift: str) -> Span:
    try:
        at_us = parse_instant(shift, tx.site.zone)
    except ValueError as trouble:
        raise Refused(f"shift {trouble}") from None
    calendars = read_calendars(tx.connection, tx.site.id, None)
    return span_at(calendars, at_us, tx.site.zone)


def _part(tx: Tx, scanned: str) -> str:
    if not scanned:
        return ""
    check_code("part", scanned)
    serial = resolve_serial(tx.connection, tx.site, scanned)
    if not tx.history("part", serial):
        raise Missing(f"there is no part {serial[:60]}; scan it, or leave the field empty")
    return serial


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOver:
    """Say that notes were read and are now one's own to see to."""

    operation: ClassVar[str] = "take over"
    notes: tuple[int, ...]
    """Their entry numbers."""
    key: str | None

    def body(self) -> Any:
        """The notes in order."""
        return sorted(self.notes)

    def subject(self) -> str:
        """The first of them."""
        return f"note {min(self.notes, default=0)}"


def take_over(tx: Tx, command: TakeOver) -> dict[str, Any]:
    """Record it on each shift whose notes they are, or on none where one cannot be taken."""
    wanted = sorted(set(command.notes))
    if not wanted:
        raise Refused("tick the notes that you take over")
    if len(wanted) > MOST_TAKEN:
        raise Refused(f"at most {MOST_TAKEN} notes are taken over at once")
    found = {note.number: note for note in notes_by_number(read_within(tx), wanted)}
    by_shift: dict[str, list[int]] = {}
    for number in wanted:
        note = found.get(number)
        if note is None:
            raise Missing(f"there is no note {number} at this site")
        check_taking(note, tx.actor.code, tx.actor.roles)
        by_shift.setdefault(note.subject, []).append(number)
    entries = [
        tx.append(
            Draft(fact=HandoverTaken(notes=tuple(numbers)), subject=subject, at_us=tx.now_us)
        ).seq
        for subject, numbers in by_shift.items()
    ]
    return {"entries": entries, "notes": wanted}


HANDLINGS: Final[dict[type, Handling]] = {
    LeaveNote: Handling(leave_note, allows(PERMISSION)),
    TakeOver: Handling(take_over, allows(PERMISSION)),
}

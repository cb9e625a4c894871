"""A shift looked up: what ended in it, what was held, decided and booked, and its notes.

Every SELECT takes what was known at the moment asked about into account, as those of the week.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, Final

from sqlalchemy import ColumnElement, and_, case, func, or_, select, text

from ringwright.db import FOREVER_US
from ringwright.flow.queries import Sql, Window, believed, instant_then
from ringwright.handover.rules import Note
from ringwright.handover.tables import HandoverNote
from ringwright.ledger.service import Read
from ringwright.ledger.tables import Event
from ringwright.parts.conditions import CONTAINMENT
from ringwright.parts.tables import Condition, Hold, Nonconformity, PartNow, Visit

TOLD: Final = {
    "run": ("run-started", "run-finished", "run-aborted", "run-accepted", "run-closed"),
    "set": ("reserve", "mend", "give-back", "hand-over", "send"),
    "shutting": ("shut", "open"),
}
"""What is told of runs, sets and things shut: kinds of facts by kind of subject."""
MOST_FOUND: Final = 200
"""Notes shown of a search."""


def _in(window: Window, instant: Any) -> ColumnElement[bool]:
    return and_(instant >= window.start_us, instant < window.end_us)


def ended_visits(read: Read, window: Window) -> Sql:
    """Every visit that ended in the window, in the order of their ends."""
    end = instant_then(read, Visit.end_us, Visit.end_known_us)
    return (
        select(
            Visit.serial, Visit.product, Visit.step, Visit.outcome, Visit.defect,
            Visit.station, Visit.ended_by, Visit.end_us,
        )
        .where(
            believed(read, Visit),
            Visit.product.in_(window.products),
            Visit.step.is_not(None),
            # The bare column for its index; what was known of it is judged beside.
            _in(window, Visit.end_us),
            _in(window, end),
        )
        .order_by(Visit.end_us, Visit.serial)
    )  # fmt: skip


def holds_moved(read: Read, window: Window) -> Sql:
    """Holds placed or lifted in the window."""
    begun = instant_then(read, Hold.from_us, Hold.from_known_us)
    lifted = instant_then(read, Hold.to_us, Hold.to_known_us)
    return (
        select(Hold.serial, Hold.reason, begun.label("from_us"), lifted.label("to_us"))
        .where(
            believed(read, Hold),
            # Both ways it was lifted no earlier; for its index, beside those of the moments.
            Hold.to_us >= window.start_us,
            or_(_in(window, begun), _in(window, lifted)),
        )
        .order_by(Hold.from_us, Hold.serial)
    )


def open_holds(read: Read, at_us: int) -> Sql:
    """Every part on hold at an instant, wherever it is, the longest first."""
    begun = instant_then(read, Hold.from_us, Hold.from_known_us)
    return (
        select(Hold.serial, Hold.reason, Hold.from_us, PartNow.product)
        .join(PartNow, and_(PartNow.site_id == Hold.site_id, PartNow.serial == Hold.serial))
        .where(
            believed(read, Hold),
            begun < at_us,
            instant_then(read, Hold.to_us, Hold.to_known_us) >= at_us,
        )
        .order_by(Hold.from_us, Hold.serial)
    )


def stopped(read: Read, at_us: int, serials: Collection[str]) -> Sql:
    """Of these parts, those with a nonconformity open at an instant: its number."""
    # By serial, not by when: the parts are few, what was ever opened before now is all.
    row = Nonconformity
    closed = instant_then(read, row.closed_us + 0, row.closed_known_us)
    opened = instant_then(read, row.opened_us + 0, row.opened_known_us)
    return (
        select(Nonconformity.serial, func.min(Nonconformity.number).label("number"))
        .where(
            believed(read, Nonconformity),
            Nonconformity.serial.in_(list(serials)),
            opened < at_us,
            closed >= at_us,
        )
        .group_by(Nonconformity.serial)
    )


def contained(read: Read, at_us: int, serials: Collection[str]) -> Sql:
    """Of these parts, those in a containment at an instant: which."""
    begun = instant_then(read, Condition.from_us, Condition.from_known_us)
    over = instant_then(read, Condition.to_us, Condition.to_known_us)
    return select(Condition.serial, Condition.value).where(
        believed(read, Condition),
        Condition.kind.concat("") == CONTAINMENT,
        Condition.serial.in_(list(serials)),
        begun < at_us,
        over >= at_us,
    )


def stops(read: Read, window: Window) -> Sql:
    """Nonconformities opened or closed in the window."""
    opened = instant_then(read, Nonconformity.opened_us, Nonconformity.opened_known_us)
    closed = instant_then(read, Nonconformity.closed_us, Nonconformity.closed_known_us)
    row = Nonconformity
    return (
        select(
            row.serial, row.number, row.defect, row.found_step, row.opened_by, row.decision,
            opened.label("opened_us"), closed.label("closed_us"),
        )
        .where(
            believed(read, row),
            # The bare columns for their indexes; what was known of them is judged beside.
            or_(_in(window, row.opened_us), _in(window, row.closed_us)),
            or_(_in(window, opened), _in(window, closed)),
        )
        .order_by(row.opened_us, row.serial)
    )  # fmt: skip


def told(read: Read, window: Window) -> Sql:
    """What was booked of runs, sets and things shut in the window."""
    asked = [
        and_(Event.subject_kind == subject, Event.kind.in_(kinds))
        for subject, kinds in TOLD.items()
    ]
    return (
        select(Event.site_seq, Event.subject_kind, Event.subject, Event.kind, Event.at_us,
               Event.actor)
        .where(
            Event.site_id == read.site.id,
            # In these very words: the index that leaves the parts out is chosen by them.
            text("subject_kind <> 'part'"),
            or_(*asked),
            _in(window, Event.at_us),
            Event.known_at_us < read.known_before_us,
        )
        .order_by(Event.at_us, Event.site_seq)
    )  # fmt: skip


def corrections(read: Read, window: Window) -> Sql:
    """Corrections of parts' entries made in the window."""
    return (
        select(Event.site_seq, Event.subject, Event.corrects, Event.at_us, Event.actor)
        .where(
            Event.site_id == read.site.id,
            Event.corrects.is_not(None),
            Event.kind == "correct",
            _in(window, Event.at_us),
            Event.known_at_us < read.known_before_us,
        )
        .order_by(Event.at_us, Event.site_seq)
    )


def notes_by_number(read: Read, numbers: Collection[int]) -> list[Note]:
    """Notes by their entry numbers."""
    return _notes(read, HandoverNote.number.in_(list(numbers)))


def notes_of(read: Read, start_us: int, end_us: int) -> list[Note]:
    """The notes of the shift that begins within [start, end), in their order."""
    shift = HandoverNote.shift_us
    return _notes(read, and_(shift >= start_us, shift < end_us))


def notes_handed(read: Read, start_us: int) -> list[Note]:
    """Notes of earlier shifts that nobody had taken over when this one began."""
    taken = instant_then(read, HandoverNote.taken_us, HandoverNote.taken_known_us)
    # Not the bare shift: nearly every note is of an earlier one, few were left.
    return _notes(read, and_(HandoverNote.shift_us + 0 < start_us, taken >= start_us))


def search_notes(read: Read, text: str) -> list[Note]:
    """The newest notes that hold a text, or are about a part of that name."""
    if not text:
        return _notes(read, HandoverNote.number > 0, newest=True)
    lower = text.lower()
    held = func.lower(HandoverNote.text).contains(lower, autoescape=True)
    about = func.lower(HandoverNote.serial).contains(lower, autoescape=True)
    return _notes(read, or_(held, about), newest=True)


def _notes(read: Read, which: ColumnElement[bool], *, newest: bool = False) -> list[Note]:
    row = HandoverNote
    known = row.taken_known_us < read.known_before_us
    taken = case((known, row.taken_us), else_=FOREVER_US)
    order: Sequence[Any] = (row.shift_us, row.at_us, row.number)
    query = select(row, taken.label("taken")).where(
        row.site_id == read.site.id, which, row.known_us < read.known_before_us
    )
    if newest:
        query = query.limit(MOST_FOUND + 1)
        order = [column.desc() for column in order]
    return [_note(one) for one in read.connection.execute(query.order_by(*order)).mappings()]


def _note(found: Any) -> Note:
    row, taken_us = found, found["taken"]
    open_ = taken_us == FOREVER_US
    return Note(
        number=row["number"],
        subject=row["subject"],
        shift_us=row["shift_us"],
        at_us=row["at_us"],
        actor=row["actor"],
        text=row["text"],
        for_role=row["for_role"],
        serial=row["serial"],
        taken_us=None if open_ else taken_us,
        taken_by="" if open_ else row["taken_by"],
    )

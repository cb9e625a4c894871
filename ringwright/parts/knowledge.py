"""Folding a part's facts in the order we learned them, so that any past moment can be asked.

Facts mostly become known in the order they happened; then each one only adds to the rows. A
correction, or a fact that turns up late, changes what was believed: the part is folded again
from all that is known by then, rows that differ are closed at that moment, new ones begin.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.parts.rows import TrackedRow, content_of
from ringwright.parts.rules import apply
from ringwright.parts.state import Part
from ringwright.routecards.card import FindCard

_KNOWN_ORDER = attrgetter("known_us", "seq")


def in_effect(entries: Sequence[Entry]) -> list[Entry]:
    """Facts as their corrections leave them, in the order they happened.

    Raises Refused when a correction names no fact of this part.
    """
    corrections = {entry.corrects: entry for entry in entries if entry.kind == "correct"}
    if not corrections:
        return sorted(entries, key=lambda entry: (entry.at_us, entry.seq))
    standing = []
    for entry in entries:
        if entry.kind == "correct":
            continue
        correction = corrections.pop(entry.seq, None)
        if correction is None:
            standing.append(entry)
        elif not correction.data.get("void"):
            standing.append(_reread(entry, correction.data.get("fields") or {}))
    if corrections:
        raise Refused(
            f"entry {next(iter(corrections))} is not an entry of this part to correct"
        )
    return sorted(standing, key=lambda entry: (entry.at_us, entry.seq))


def _reread(entry: Entry, changed: dict[str, object]) -> Entry:
    data = dict(entry.data)
    at_us, station, actor = entry.at_us, entry.station, entry.actor
    for name, value in changed.items():
        if name == "at_us":
            assert isinstance(value, int)
            at_us = value
        elif name == "station":
            station = str(value)
        elif name == "by":
            actor = str(value)
        else:
            data[name] = value
    return entry._replace(at_us=at_us, station=station, actor=actor, data=data)


def fold(serial: str, entries: Sequence[Entry], find_card: FindCard) -> Part:
    """The part after all facts; raises Refused where they break a rule."""
    part = Part(serial)
    for entry in in_effect(entries):
        apply(part, entry, find_card)
    part.last_seq = max((entry.seq for entry in entries), default=0)
    return part


def fold_before(
    serial: str, entries: Sequence[Entry], find_card: FindCard, place: tuple[int, int]
) -> Part:
    """The part just before (instant, entry number), corrections counted."""
    part = Part(serial)
    for entry in in_effect(entries):
        if (entry.at_us, entry.seq) < place:
            apply(part, entry, find_card)
    return part


def _fold_what_is_known(serial: str, entries: Sequence[Entry], find_card: FindCard) -> Part:
    """As `fold`, for facts known so far: one without sense yet waits for what explains it."""
    part = Part(serial)
    numbers = {entry.seq for entry in entries}
    known = [entry for entry in entries if entry.corrects is None or entry.corrects in numbers]
    for entry in in_effect(known):
        try:
            apply(part, entry, find_card)
        except Refused:
            part.unexplained = True
    return part


def believe(
    serial: str, entries: Sequence[Entry], find_card: FindCard
) -> tuple[Part, list[list[TrackedRow]]]:
    """The part as it stands, and every row ever believed, by table.

    The tables are those of `Part.tracked`, in its order.
    """
    order = sorted(entries, key=_KNOWN_ORDER)
    part = Part(serial)
    closed: list[list[TrackedRow]] = [[] for _ in part.tracked()]
    doubtful = False
    for place, entry in enumerate(order):
        if (
            not doubtful
            and entry.kind != "correct"
            and (entry.at_us, entry.seq) > part.last_place
        ):
            doubtful = _take_in_order(part, entry, find_card)
            if not doubtful:
                continue
        known = order[: place + 1]
        later = _fold_what_is_known(serial, sorted(known, key=lambda e: e.seq), find_card)
        _supersede(part, later, entry.known_us, closed)
        part = later
        doubtful = part.unexplained
    part.last_seq = max((entry.seq for entry in entries), default=0)
    believed = [[*old, *new] for old, new in zip(closed, part.tracked(), strict=True)]
    if any(closed):
        _number_versions(believed)
    return part, believed


def _number_versions(believed: list[list[TrackedRow]]) -> None:
    """Rows that stood under one number in turn get versions 0, 1, 2 …"""
    for rows in believed:
        seen: dict[int, int] = {}
        for row in rows:
            number: int = row.number  # type: ignore[attr-defined]
            row.version = seen.get(number, 0)
            seen[number] = row.version + 1


def _take_in_order(part: Part, entry: Entry, find_card: FindCard) -> bool:
    """Apply a fact to the rows in place; True when the part must be folded again instead."""
    if entry.kind == "sentence" and part.place == "released":
        return True  # it may take back a release that was believed until now
    if entry.kind in ("doubt", "trust"):
        return True  # what is thought of earlier readings changes from now on
    try:
        apply(part, entry, find_card)
    except Refused:
        return True
    return False


def _supersede(
    before: Part, after: Part, known_us: int, closed: list[list[TrackedRow]]
) -> None:
    for old_rows, new_rows, ended in zip(
        before.tracked(), after.tracked(), closed, strict=True
    ):
        old = {row.number: row for row in old_rows}  # type: ignore[attr-defined]
        for row in new_rows:
            previous = old.pop(row.number, None)  # type: ignore[attr-defined]
            if previous is None:
                row.known_from_us = known_us
            elif content_of(previous) == content_of(row):
                row.known_from_us = previous.known_from_us
            else:
                row.known_from_us = known_us
                _close(previous, known_us, ended)
        for row in old.values():
            _close(row, known_us, ended)


def _close(row: TrackedRow, known_us: int, ended: list[TrackedRow]) -> None:
    row.known_to_us = known_us
    ended.append(row)

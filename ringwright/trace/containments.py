"""Containments, looked up: which there are, their parts, what is still to do."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import case, func, select

from ringwright.core.errors import Missing
from ringwright.db import FOREVER_US
from ringwright.flow.queries import believed
from ringwright.ledger.service import Read
from ringwright.ledger.tables import Event
from ringwright.parts.tables import Condition
from ringwright.trace.queries import chunks
from ringwright.trace.question import Question, without_question
from ringwright.trace.standing import CONTAINMENT, NOTICE, Standing, read_standings

HELD, OPEN, TOLD, NOTED, CLEARED = "held", "open", "told", "noted", "cleared"
"""What a part of a containment is: held, its notice open or sent, scrapped, cleared."""
CLOSED_SHOWN: Final = 50
MOST_ROWS: Final = 20_000
"""Parts looked through for the containments closed last."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainmentLine:
    """One containment in the list of them."""

    code: str
    at_us: int
    by: str
    reason: str
    question: Question | None
    parts: int
    open: int
    """Parts not cleared yet."""
    notices_open: int
    notices: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainedPart:
    """One part of a containment."""

    standing: Standing
    state: str
    at_us: int
    """When it was contained."""
    to: str = ""
    """To whom its notice went."""
    told_us: int | None = None
    cleared_us: int | None = None
    cleared_by: str = ""
    why: str = ""
    """Why it was cleared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Containment:
    """One containment, from one snapshot."""

    line: ContainmentLine
    parts: tuple[ContainedPart, ...]
    site_name: str
    zone: str
    now_us: int
    as_of_us: int | None
    head_seq: int
    head_hash: str

    def count(self, state: str) -> int:
        """Parts in that state."""
        return sum(part.state == state for part in self.parts)

    def in_state(self, *states: str) -> tuple[ContainedPart, ...]:
        """Parts in these states, in order."""
        return tuple(part for part in self.parts if part.state in states)


def read_recent(read: Read) -> tuple[list[str], bool]:
    """Codes of every open containment and of those closed last; True when older ones are left.

    By index from the newest end: however many there ever were, only these are looked at.
    """
    here = (believed(read, Condition), Condition.kind == CONTAINMENT)
    open_ = select(Condition.value).where(*here, Condition.to_us == FOREVER_US).distinct()
    closed = (
        select(Condition.value)
        .where(*here, Condition.to_us < FOREVER_US)
        .order_by(Condition.to_us.desc())
        .limit(MOST_ROWS)
    )
    codes = dict.fromkeys(read.connection.execute(open_).scalars())
    rows = read.connection.execute(closed).scalars().all()
    ended = [code for code in dict.fromkeys(rows) if code not in codes]
    left = len(ended) > CLOSED_SHOWN or len(rows) == MOST_ROWS
    return [*codes, *ended[:CLOSED_SHOWN]], left


def read_containments(read: Read, codes: Sequence[str] | None = None) -> list[ContainmentLine]:
    """Containments, the newest first: those of the codes, or all there ever were."""
    open_ = func.sum(case((Condition.to_us == FOREVER_US, 1), else_=0)).label("open")
    base = (
        select(
            Condition.value,
            Condition.kind,
            func.count().label("parts"),
            open_,
            func.min(Condition.number).label("number"),
        )
        .where(believed(read, Condition), Condition.kind.in_((CONTAINMENT, NOTICE)))
        .group_by(Condition.kind, Condition.value)
    )
    if codes is not None:
        base = base.where(Condition.value.in_(codes))
    rows = read.connection.execute(base).all()
    notices = {row.value: row for row in rows if row.kind == NOTICE}
    told = _first_rows(read, [row for row in rows if row.kind == CONTAINMENT])
    lines = [
        _line(row, notices.get(row.value), told[row.value])
        for row in rows
        if row.kind == CONTAINMENT and row.value in told
    ]
    return sorted(lines, key=lambda line: (-line.at_us, line.code))


def _first_rows(read: Read, rows: Sequence[Any]) -> dict[str, Any]:
    """The first part's row of each containment: when, by whom, why."""
    query = select(Condition.value, Condition.note, Condition.actor, Condition.from_us).where(
        believed(read, Condition),
        Condition.kind == CONTAINMENT,
        Condition.value.in_([row.value for row in rows]),
        # An entry's number is the site's own: no two containments share their first.
        Condition.number.in_([row.number for row in rows]),
    )
    return {str(row.value): row for row in read.connection.execute(query)}


def _line(row: Any, notice: Any, first: Any) -> ContainmentLine:
    reason, question = without_question(first.note or "")
    return ContainmentLine(
        code=row.value,
        at_us=first.from_us,
        by=first.actor,
        reason=reason,
        question=question,
        parts=row.parts,
        open=row.open,
        notices=notice.parts if notice else 0,
        notices_open=notice.open if notice else 0,
    )


def read_containment(read: Read, code: str) -> Containment:
    """One containment with its parts; raises Missing."""
    lines = read_containments(read, [code])
    if not lines:
        raise Missing(f"there is no containment {code} at {read.site.name or read.site.code}")
    rows = read.connection.execute(
        select(Condition)
        .where(
            believed(read, Condition),
            Condition.kind.in_((CONTAINMENT, NOTICE)),
            Condition.value == code,
        )
        # Not by the bare column: SQLite would walk the whole key for its order.
        .order_by(Condition.serial.concat(""), Condition.number)
    ).all()
    contained = {row.serial: row for row in rows if row.kind == CONTAINMENT}
    notices = {row.serial: row for row in rows if row.kind == NOTICE}
    standings = read_standings(read, list(contained))
    cleared = [serial for serial, row in contained.items() if row.to_us != FOREVER_US]
    why = _clearings(read, cleared, code)
    parts = [
        _part(row, notices.get(serial), standings[serial], why.get(serial))
        for serial, row in contained.items()
    ]
    return Containment(
        line=lines[0],
        parts=tuple(parts),
        site_name=read.site.name or read.site.code,
        zone=read.site.zone,
        now_us=read.now_us,
        as_of_us=read.as_of_us,
        head_seq=read.head_seq,
        head_hash=read.head_hash,
    )


def _part(row: Any, notice: Any, standing: Standing, clearing: Any) -> ContainedPart:
    state = HELD
    if clearing is not None:
        state = CLEARED
    elif notice is not None:
        state = TOLD if notice.note else OPEN
    elif standing.place == "scrapped":
        state = NOTED
    return ContainedPart(
        standing=standing,
        state=state,
        at_us=row.from_us,
        to=(notice.note or "") if notice else "",
        told_us=notice.to_us if notice and notice.note else None,
        cleared_us=row.to_us if clearing is not None else None,
        cleared_by=clearing.actor if clearing is not None else "",
        why=(json.loads(clearing.payload).get("reason") or "") if clearing is not None else "",
    )


def _clearings(read: Read, serials: Sequence[str], code: str) -> dict[str, Any]:
    """The entry that cleared each of these parts from the containment."""
    found = {}
    for piece in chunks(serials):
        query = select(Event.subject, Event.actor, Event.payload).where(
            Event.site_id == read.site.id,
            Event.subject_kind == "part",
            Event.subject.in_(piece),
            Event.kind == "clear",
            Event.known_at_us < read.known_before_us,
        )
        for row in read.connection.execute(query.order_by(Event.site_seq + 0)):
            if json.loads(row.payload).get("containment") == code:
                found[str(row.subject)] = row
    return found

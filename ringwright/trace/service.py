"""Contain what is suspect: hold what is here, open notices for what is sent, part by part.

A containment is booked as one fact on each part, all of them in one transaction or none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from sqlalchemy import select

from ringwright.bench.many import listed, open_desks, record_each
from ringwright.bench.rules import needed
from ringwright.core.calendar import iso_text
from ringwright.core.errors import Clash, Missing, Refused
from ringwright.core.facts import Entry
from ringwright.ledger.service import Handling, read_within
from ringwright.ledger.transaction import Tx
from ringwright.parts import facts
from ringwright.parts.tables import Condition
from ringwright.people.allowing import allows
from ringwright.trace.question import Question, with_question
from ringwright.trace.standing import CONTAINMENT, Standing
from ringwright.trace.touched import Touched, read_touched

HOLD, KEEP, NOTICE, NOTE = "hold", "keep", "notice", "note"
"""What containing a part does: holds it, leaves the hold it has, opens a notice, notes it."""


def plan_of(standing: Standing) -> str:
    """What containing a part does as it stands."""
    if standing.place == "sent":
        return NOTICE
    if standing.place == "scrapped":
        return NOTE
    return HOLD if standing.hold is None else KEEP


def plans_of(touched: Touched) -> tuple[tuple[str, str], ...]:
    """(serial, plan) of every touched part: what a preview shows and its button does."""
    return tuple((part.serial, plan_of(part.standing)) for part in touched.parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Contain:
    """Contain every part that a suspect touched, as the person saw them."""

    operation: ClassVar[str] = "contain"
    key: str | None
    reason: str
    question: Question
    plans: tuple[tuple[str, str], ...]
    """(serial, what containing it does) as the preview showed it."""

    def body(self) -> Any:
        """The question, the reason and the plan of each part."""
        return {
            "reason": self.reason,
            "question": self.question.text("UTC"),
            "plans": [list(plan) for plan in self.plans],
        }

    def subject(self) -> str:
        """What is suspect."""
        return self.question.text("UTC")


def contain(tx: Tx, command: Contain) -> dict[str, Any]:
    """Record the containment on each part; raises Clash when anything changed since.

    What was added or changed since the person looked is named, so that it can be looked at
    and confirmed: nothing is held unseen, and nothing suspect is left out.
    """
    reason = needed(command.reason, "say what is wrong (reason)")
    touched = read_touched(read_within(tx), command.question)
    if not touched.parts:
        raise Refused("nothing was touched; there is nothing to contain")
    _check_seen(command.plans, plans_of(touched))
    again = [part.serial for part in touched.parts if set(part.standing.contained)]
    code = _next_code(tx)
    fact = facts.Contained(
        containment=code, reason=with_question(reason, command.question, tx.site.zone)
    )
    _record(tx, touched.serials, fact)
    counts = dict.fromkeys((HOLD, KEEP, NOTICE, NOTE), 0)
    for _, plan in command.plans:
        counts[plan] += 1
    return {
        "containment": code,
        "at": iso_text(tx.now_us, tx.site.zone),
        "parts": len(touched.parts),
        "done": counts,
        "also_in_others": len(again),
    }


def _check_seen(seen: Sequence[tuple[str, str]], now: Sequence[tuple[str, str]]) -> None:
    before, after = dict(seen), dict(now)
    added = [serial for serial in after if serial not in before]
    gone = [serial for serial in before if serial not in after]
    other = [s for s, plan in after.items() if s in before and before[s] != plan]
    if not added and not gone and not other:
        return
    told = [
        f"{word}: {listed(serials)}"
        for word, serials in (
            ("touched since you looked", added),
            ("no longer touched", gone),
            ("stand otherwise now", other),
        )
        if serials
    ]
    raise Clash(f"{'; '.join(told)}. Look again, then contain them", code="acted-first")


@dataclass(frozen=True, slots=True, kw_only=True)
class _OnParts:
    """What Clear and SendNotice carry."""

    key: str | None
    containment: str
    serials: tuple[str, ...]

    def subject(self) -> str:
        """The containment."""
        return self.containment


@dataclass(frozen=True, slots=True, kw_only=True)
class Clear(_OnParts):
    """The containment does not concern these parts (any more)."""

    operation: ClassVar[str] = "clear"
    reason: str

    def body(self) -> Any:
        """The containment, its parts, the reason."""
        return {"of": self.containment, "serials": list(self.serials), "reason": self.reason}


def clear(tx: Tx, command: Clear) -> dict[str, Any]:
    """End the containment for each part; holds it placed are lifted, its notices closed."""
    reason = needed(command.reason, "say why they may go on (reason)")
    _check_parts(tx, command)
    fact = facts.Cleared(containment=command.containment, reason=reason)
    return _done(tx, command, _record(tx, command.serials, fact))


@dataclass(frozen=True, slots=True, kw_only=True)
class SendNotice(_OnParts):
    """Whoever has these sent parts was told."""

    operation: ClassVar[str] = "send notice"
    to: str
    reason: str = ""

    def body(self) -> Any:
        """The containment, its parts, the addressee."""
        found = {"of": self.containment, "serials": list(self.serials), "to": self.to}
        return {**found, "reason": self.reason} if self.reason else found


def send_notice(tx: Tx, command: SendNotice) -> dict[str, Any]:
    """Record on each part to whom its notice went."""
    to = needed(command.to, "say to whom the notice went")
    _check_parts(tx, command)
    reason = command.reason.strip() or None
    fact = facts.NoticeSent(containment=command.containment, to=to, reason=reason)
    return _done(tx, command, _record(tx, command.serials, fact))


def _done(tx: Tx, command: _OnParts, entries: Sequence[Entry]) -> dict[str, Any]:
    return {
        "containment": command.containment,
        "at": iso_text(tx.now_us, tx.site.zone),
        "parts": len(entries),
        "first_entry": entries[0].seq,
    }


def _check_parts(tx: Tx, command: _OnParts) -> None:
    if not command.serials:
        raise Refused("choose at least one part")
    if len(set(command.serials)) != len(command.serials):
        raise Refused("name each part once")
    if not _exists(tx, command.containment):
        raise Missing(f"there is no containment {command.containment}")


def _record(tx: Tx, serials: Sequence[str], fact: facts.PartFact) -> list[Entry]:
    return record_each(tx, open_desks(tx, serials), dict.fromkeys(serials, fact))


def _codes(tx: Tx) -> list[str]:
    query = (
        select(Condition.value)
        .where(Condition.site_id == tx.site.id, Condition.kind == CONTAINMENT)
        .distinct()
    )
    return [str(code) for code in tx.connection.execute(query).scalars()]


def _exists(tx: Tx, code: str) -> bool:
    query = select(Condition.serial).where(
        Condition.site_id == tx.site.id,
        Condition.kind == CONTAINMENT,
        Condition.value == code,
    )
    return tx.connection.execute(query.limit(1)).first() is not None


def _next_code(tx: Tx) -> str:
    """C-1, C-2 …: the site's writers go one at a time, so no number is given twice."""
    numbers = [int(code[2:]) for code in _codes(tx) if code[:2] == "C-" and code[2:].isdigit()]
    return f"C-{max(numbers, default=0) + 1}"


HANDLINGS: dict[type, Handling] = {
    Contain: Handling(contain, allows("contain")),
    Clear: Handling(clear, allows("clear")),
    SendNotice: Handling(send_notice, allows("notice")),
}

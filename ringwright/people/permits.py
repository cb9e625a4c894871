"""Grant, end and review a temporary permission; set who is called for a role."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.core.facts import Fact
from ringwright.core.fields import problem_of_text
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Draft, Tx
from ringwright.people.allowing import allows
from ringwright.people.facts import CalloutSet, PermitEnded, PermitGranted, PermitReviewed
from ringwright.people.queries import count_permits, read_permit, read_permits
from ringwright.people.rules import (
    Asks,
    Permit,
    check_grant,
    check_list,
    check_review,
    until_us_of,
)
from ringwright.sites.queries import person_known, read_people
from ringwright.sites.site import ROLES


@dataclass(frozen=True, slots=True, kw_only=True)
class GrantPermit:
    """Let one person do one thing more for some hours."""

    operation: ClassVar[str] = "grant permit"
    person: str
    permission: str
    reason: str
    hours: int
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.person, self.permission, self.reason, self.hours]

    def subject(self) -> str:
        """Who gets it."""
        return self.person


def grant_permit(tx: Tx, command: GrantPermit) -> dict[str, Any]:
    """Record it with the moment it ends by itself; raises Refused, Missing or Forbidden."""
    _check_said(command.reason)
    if not tx.actor.person:
        raise Forbidden("a person grants a temporary permission, no system does")
    person = person_known(tx.connection, tx.site.id, command.person)
    asks = Asks(
        person=person.code,
        roles=frozenset(person.roles),
        permission=command.permission,
        reason=command.reason,
        hours=command.hours,
    )
    check_grant(asks, tx.actor.code, tx.actor.roles)
    held = read_permits(tx.connection, tx.site.id, person.code, tx.now_us)
    if any(permit.permission == command.permission for permit in held):
        raise Refused(f"{person.code} has that permission already; end it first")
    code = f"P-{count_permits(tx.connection, tx.site.id) + 1}"
    fact = PermitGranted(
        person=person.code,
        permission=command.permission,
        reason=command.reason.strip(),
        until_us=until_us_of(tx.now_us, command.hours),
    )
    return _append(tx, code, fact)


@dataclass(frozen=True, slots=True, kw_only=True)
class EndPermit:
    """End a temporary permission before its time."""

    operation: ClassVar[str] = "end permit"
    code: str
    reason: str
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.code, self.reason]

    def subject(self) -> str:
        """The permission's code."""
        return self.code


def end_permit(tx: Tx, command: EndPermit) -> dict[str, Any]:
    """Record its end; raises Refused where it is over already."""
    _check_said(command.reason)
    permit = _known(tx, command.code)
    if not permit.in_force(tx.now_us):
        raise Refused(f"{permit.code} is over already; nothing was changed")
    return _append(tx, permit.code, PermitEnded(reason=command.reason.strip() or None))


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewPermit:
    """Agree with a temporary permission that is over, or say what is done about it."""

    operation: ClassVar[str] = "review permit"
    code: str
    agreed: bool
    note: str
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.code, self.agreed, self.note]

    def subject(self) -> str:
        """The permission's code."""
        return self.code


def review_permit(tx: Tx, command: ReviewPermit) -> dict[str, Any]:
    """Record the review; raises Refused or Forbidden."""
    _check_said(command.note)
    permit = _known(tx, command.code)
    check_review(permit, tx.actor.code, tx.now_us, command.agreed, command.note)
    fact = PermitReviewed(agreed=command.agreed, note=command.note.strip() or None)
    return _append(tx, permit.code, fact)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetCallout:
    """Set who is called for a role, in order."""

    operation: ClassVar[str] = "set call-out"
    role: str
    people: tuple[str, ...]
    key: str | None

    def body(self) -> Any:
        """Role and people."""
        return [self.role, list(self.people)]

    def subject(self) -> str:
        """The role."""
        return self.role


def set_callout(tx: Tx, command: SetCallout) -> dict[str, Any]:
    """Record the list; raises Refused for a stranger to the role."""
    if command.role not in ROLES:
        raise Refused(f"there is no role {command.role[:40]!r}")
    people = read_people(tx.connection, tx.site.id)
    holders = {person.code for person in people if command.role in person.roles}
    check_list(command.role, command.people, holders)
    fact = CalloutSet(people=command.people)
    history = tx.history(fact.subject_kind, command.role)
    if history and history[-1].data == fact.payload():
        return {"subject": command.role, "entry": history[-1].seq}
    return _append(tx, command.role, fact)


def _append(tx: Tx, subject: str, fact: Fact) -> dict[str, Any]:
    history = tx.history(fact.subject_kind, subject)
    at_us = max([tx.now_us, *(entry.at_us for entry in history)])
    entry = tx.append(Draft(fact=fact, subject=subject, at_us=at_us), history)
    return {"subject": subject, "entry": entry.seq}


def _known(tx: Tx, code: str) -> Permit:
    permit = read_permit(tx.connection, tx.site.id, code)
    if permit is None:
        raise Missing(f"there is no temporary permission {code[:40]!r}")
    return permit


def _check_said(text: str) -> None:
    problem = problem_of_text(text)
    if problem is not None:
        raise Refused(f"what was written {problem}")


HANDLINGS: dict[type, Handling] = {
    GrantPermit: Handling(grant_permit, allows("permit")),
    EndPermit: Handling(end_permit, allows("permit")),
    ReviewPermit: Handling(review_permit, allows("review permit")),
    SetCallout: Handling(set_callout, allows("call-out")),
}

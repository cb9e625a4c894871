"""Grant a person an authorisation, or withdraw it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.authorisation import asked_of
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.core.fields import as_data, problem_of_text
from ringwright.ledger.transaction import Draft, Tx
from ringwright.sites.facts import AuthorisationWithdrawn, Authorised
from ringwright.sites.papers import checked_paper
from ringwright.sites.queries import person_known
from ringwright.sites.site import Authorisation

KIND = Authorised.subject_kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Authorise:
    """Grant a person a method for a time."""

    operation: ClassVar[str] = "authorise"
    paper: Authorisation
    key: str | None

    def body(self) -> Any:
        """What is granted, as JSON values."""
        return as_data(self.paper)

    def subject(self) -> str:
        """Person and method."""
        return subject_of(self.paper.person, self.paper.method)


def authorise(tx: Tx, command: Authorise) -> dict[str, Any]:
    """Record it; raises Refused, Missing, or Forbidden for an authorisation of one's own."""
    paper = checked_paper(command.paper)
    person_known(tx.connection, tx.site.id, paper.person)
    _check_other(tx, paper.person)
    subject, fact = subject_of(paper.person, paper.method), _fact(paper)
    history = tx.history(KIND, subject)
    if history and history[-1].data == fact.payload():
        return {"subject": subject, "entry": history[-1].seq, "changed": False}
    at_us = max([tx.now_us, *(entry.at_us for entry in history)])
    entry = tx.append(Draft(fact=fact, subject=subject, at_us=at_us), history)
    return {"subject": subject, "entry": entry.seq, "changed": True}


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdraw:
    """Take an authorisation from a person, from now on."""

    operation: ClassVar[str] = "withdraw authorisation"
    person: str
    method: str
    reason: str
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.person, self.method, self.reason]

    def subject(self) -> str:
        """Person and method."""
        return subject_of(self.person, self.method)


def withdraw(tx: Tx, command: Withdraw) -> dict[str, Any]:
    """Record that it ends now and why; raises Refused where nothing was granted with dates."""
    subject = subject_of(command.person, asked_of(command.method).method)
    problem = problem_of_text(command.reason)
    if problem is not None:
        raise Refused(f"reason {problem}")
    if not command.reason.strip():
        raise Refused("say why it is withdrawn (reason)")
    history = tx.history(KIND, subject)
    if not history or history[-1].kind != Authorised.kind:
        raise Refused(
            f"{command.person} holds no dated authorisation for {command.method}; a code alone "
            "is taken away where the person is set"
        )
    fact = AuthorisationWithdrawn(reason=command.reason.strip())
    at_us = max([tx.now_us, *(entry.at_us for entry in history)])
    entry = tx.append(Draft(fact=fact, subject=subject, at_us=at_us), history)
    return {"subject": subject, "entry": entry.seq, "changed": True}


def grant_by_file(tx: Tx, paper: Authorisation) -> bool:
    """Record an authorisation of a site file unless it was granted once; True when it is new.

    The same file again changes nothing: it does not bring back what was withdrawn since.
    """
    if not tx.history("person", paper.person):
        raise Missing(f"there is no person {paper.person!r} to authorise; add a [[person]]")
    _check_other(tx, paper.person)
    subject, fact = subject_of(paper.person, paper.method), _fact(paper)
    history = tx.history(KIND, subject)
    if any(entry.data == fact.payload() for entry in history):
        return False
    tx.append(Draft(fact=fact, subject=subject, at_us=tx.now_us), history)
    return True


def subject_of(person: str, method: str) -> str:
    """What the record calls it; a method holds no slash, so the last one parts the two."""
    return f"{person}/{method}"


def _check_other(tx: Tx, person: str) -> None:
    if tx.actor.person and tx.actor.code == person:
        raise Forbidden("nobody grants themselves an authorisation; somebody else must")


def _fact(paper: Authorisation) -> Authorised:
    return Authorised(
        person=paper.person,
        method=paper.method,
        level=paper.level,
        valid_from=paper.valid_from,
        valid_to=paper.valid_to,
        eyesight_to=paper.eyesight_to,
        certificate=paper.certificate or None,
        scope=paper.scope or None,
    )

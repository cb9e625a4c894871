"""Whether who works at a step is authorised for it that day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from ringwright.core.authorisation import Asked, asked_of
from ringwright.core.errors import Forbidden
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import Tx
from ringwright.parts.state import Part
from ringwright.routecards.card import Step
from ringwright.sites.queries import read_grants, read_people, when_at
from ringwright.sites.rules import Grants, Verdict, When, holders, judge, sentence_of
from ringwright.sites.site import Person


@dataclass(frozen=True, slots=True, kw_only=True)
class StepAsks:
    """What a step asks of whoever works on it, as the Bench shows it before the press."""

    asked: Asked
    verdict: Verdict | None
    """Of the person at the screen; None while nobody is."""
    valid: tuple[str, ...]
    """Who at the site holds it now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    """What an authorisation is judged by."""

    people: Sequence[Person]
    grants: Grants
    when: When


def _ground(connection: Connection, site: tuple[int, str], asked: Asked, at_us: int) -> _Ground:
    site_id, zone = site
    return _Ground(
        people=read_people(connection, site_id),
        grants=read_grants(connection, site_id, zone, method=asked.method),
        when=when_at(at_us, zone),
    )


def check_authorised(
    tx: Tx, part: Part, step: int | None, workers: Sequence[str], at_us: int | None
) -> None:
    """Refuse work at a step that asks an authorisation which a worker does not hold that day.

    Both who did the work and who books it are asked. A token that stands for a role is a system
    of the shop's, which checks its own people. Raises Forbidden.
    """
    of_step = part.route.by_number.get(-1 if step is None else step)
    if of_step is None or of_step.authorisation is None:
        return
    moment_us = max(tx.now_us, part.last_at_us) if at_us is None else at_us
    check_holds(tx, of_step.authorisation, of_step.number, workers, moment_us)


def check_holds(
    tx: Tx, authorisation: str, step: int, workers: Sequence[str], at_us: int
) -> None:
    """Refuse work of a step for which a worker does not hold an authorisation that day.

    A token that stands for a role is a system of the shop's. Raises Forbidden.
    """
    if not tx.actor.person:
        return
    asked = asked_of(authorisation)
    ground = _ground(tx.connection, (tx.site.id, tx.site.zone), asked, at_us)
    for code in dict.fromkeys(workers):
        verdict = _verdict(ground, asked, code)
        if not verdict.holds:
            valid = holders(asked, ground.people, ground.grants, ground.when)
            raise Forbidden(
                sentence_of(step, verdict, valid, ground.when.day), code="unauthorised"
            )


def _verdict(ground: _Ground, asked: Asked, code: str) -> Verdict:
    # Somebody the site does not know holds no codes; papers are granted to people it knows.
    person = next((one for one in ground.people if one.code == code), None)
    stranger = Person(code=code, roles=())
    return judge(asked, person or stranger, ground.grants, ground.when)


def read_step_asks(read: Read, step: Step | None, code: str | None) -> StepAsks | None:
    """What the step asks and whether somebody holds it; None where it asks nothing."""
    if step is None or step.authorisation is None:
        return None
    asked = asked_of(step.authorisation)
    ground = _ground(read.connection, (read.site.id, read.site.zone), asked, read.now_us)
    return StepAsks(
        asked=asked,
        verdict=_verdict(ground, asked, code) if code else None,
        valid=holders(asked, ground.people, ground.grants, ground.when),
    )

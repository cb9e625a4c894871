"""The audit of the doors: lines that are added and never changed."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from typing import Final

from sqlalchemy import insert
from sqlalchemy.exc import SQLAlchemyError

from ringwright.core.glossary import N_
from ringwright.ledger.service import Ledger
from ringwright.people.tables import AuditLine

log = logging.getLogger("ringwright.people")

KINDS: Final[dict[str, str]] = {
    "signed-in": N_("signed in"),
    "not-signed-in": N_("sign-in failed"),
    "signed-out": N_("signed out"),
    "sign-in-ended": N_("sign-in ended by somebody else"),
    "signature-refused": N_("badge or PIN refused"),
    "too-often": N_("tried too often"),
    "denied": N_("denied"),
    "export": N_("file taken"),
    "account": N_("account changed"),
    "roles": N_("roles changed"),
    "device": N_("device let in or ended"),
    "token": N_("API key made or ended"),
}
"""Every kind of line, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asker:
    """From where something was asked."""

    address: str
    agent: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What is to be kept: which kind, who, about what, how or why."""

    kind: str
    actor: str
    subject: str = ""
    why: str = ""


def note(ledger: Ledger, site_id: int, asker: Asker, line: Line) -> None:
    """Add one line; what was done stands even if this cannot be kept."""
    assert line.kind in KINDS
    values = {
        "site_id": site_id,
        "at_us": ledger.clock.now_us(),
        "kind": line.kind,
        "actor": plain(line.actor, 200),
        "address": plain(asker.address, 100),
        "subject": plain(line.subject, 200),
        "why": plain(line.why, 500),
    }
    try:
        with ledger.store.write(0) as connection:
            connection.execute(insert(AuditLine).values(values))
    except SQLAlchemyError:
        log.exception("a line of the audit could not be kept")


def plain(text: str, most: int) -> str:
    """One line of text: what would begin another line, or hide, is shown as a question mark."""
    return "".join(c if c.isprintable() else "?" for c in text[:most])

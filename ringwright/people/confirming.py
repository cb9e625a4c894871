"""Signatures on one act: of whoever acts at a shared bench, and of a second person.

They come in fields of the same form (`by.badge`, `second.code` …), on top of what the act
needs, so that any form can be signed. An act that lacks one is answered with the page that
asks for it and keeps all that was sent.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from fastapi import Depends, Request

from ringwright.core.errors import Refused, RingwrightError
from ringwright.kit.forms import SAFE, Given, Sent
from ringwright.ledger.transaction import Second
from ringwright.people.accounts import make_code, use_code
from ringwright.people.marks import check_no_badge, looks_like_badge
from ringwright.people.signing import Proof, signer
from ringwright.people.throttle import wait_of
from ringwright.people.visitor import Visitor, desk_of, keeper_of
from ringwright.sites.queries import read_person
from ringwright.sites.site import Person

BY: Final = "by."
SECOND: Final = "second."
SIGNED: Final = "by.signed"
"""A one-time code that stands for a badge scanned a moment ago, while a second is asked."""


SIGN_AGAIN: Final = "that signature was used or is too old; sign again, it books only once"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signatures:
    """Who signed the act that is being sent."""

    by: Person | None = None
    second: Second | None = None


class ConfirmationNeeded(Exception):
    """The act waits for a signature; nothing was booked yet. `why` is what was wrong."""

    def __init__(self, whose: str, why: str = "", status: int = 401, wait_s: int = 0) -> None:
        super().__init__(whose)
        self.whose = whose
        """`by` or `second`."""
        self.why = why
        self.status = status
        self.wait_s = wait_s


def signatures_of(request: Request) -> Signatures:
    """Who signed what this request sends."""
    found: Signatures | None = getattr(request.state, "signatures", None)
    return found or Signatures()


def _confirmed(request: Request, given: Sent) -> None:
    visitor: Visitor | None = getattr(request.state, "visitor", None)
    if request.method in SAFE:
        return
    own = (BY, SECOND)
    named = {name: texts for name, texts in given.fields.items() if not name.startswith(own)}
    check_no_badge(text for texts in named.values() for text in texts)
    if visitor is None:
        return
    request.state.given = given
    by = visitor.person
    if visitor.is_bench:
        by = _signed(request, visitor, given)
    second = _signature(request, visitor, given, SECOND, by)
    roles = frozenset(second.roles) if second else frozenset()
    request.state.signatures = Signatures(
        by=by, second=Second(code=second.code, roles=roles) if second else None
    )


def _signed(request: Request, visitor: Visitor, given: Given) -> Person | None:
    slip = given.text(SIGNED)
    if not slip:
        return _signature(request, visitor, given, BY, None)
    ledger = keeper_of(request).ledger
    try:
        row = use_code(ledger, ("signed",), slip)
    except Refused:
        raise ConfirmationNeeded("by", SIGN_AGAIN) from None
    if row.site_id != visitor.site_id or row.label != given.text("key"):
        raise ConfirmationNeeded("by", SIGN_AGAIN)
    with ledger.store.read() as connection:
        return read_person(connection, visitor.site_id, row.code)


def _signature(
    request: Request, visitor: Visitor, given: Given, prefix: str, first: Person | None
) -> Person | None:
    proof = proof_of(given.under(prefix))
    if proof.empty:
        return None
    where = visitor.device.label if visitor.device is not None else visitor.name
    try:
        return signer(keeper_of(request), visitor.site_id, proof, str(where))
    except RingwrightError as trouble:
        whose = prefix.rstrip(".")
        if whose == "second" and visitor.is_bench and first is not None:
            request.state.signatures = Signatures(by=first)
        raise ConfirmationNeeded(
            whose, trouble.message, trouble.status, wait_of(trouble)
        ) from None


def proof_of(fields: Mapping[str, str]) -> Proof:
    """What was scanned or typed; a badge scanned into another of the fields is a badge too."""
    typed = [fields.get(name, "") for name in ("badge", "code", "secret")]
    badge = next(filter(looks_like_badge, typed), typed[0])
    if badge:
        return Proof(badge=badge)
    return Proof(code=typed[1], secret=typed[2])


def slip_for(request: Request, visitor: Visitor, given: Given) -> str:
    """A one-time code for who signed already, so that no badge stands in a page."""
    by = signatures_of(request).by
    if not visitor.is_bench or by is None:
        return ""
    return make_code(desk_of(request, by.code), "signed", by.code, given.text("key"))


Confirmed = Depends(_confirmed)
"""Looks at the signatures of what is sent, for the whole application."""

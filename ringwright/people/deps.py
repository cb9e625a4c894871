"""Who stands behind a request to the API."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Final

from fastapi import Depends, Header, HTTPException, Request
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from fastapi.security.utils import get_authorization_scheme_param

from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor, Second
from ringwright.people.service import bearer

_scheme = HTTPBearer(auto_error=False, description="From `ringwright token --role ROLE`.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Caller:
    """A token's site and actor, and the record to ask."""

    ledger: Ledger
    site: str
    actor: Actor


def _caller(
    request: Request,
    credentials: Annotated[HTTPAuthorizationCredentials | None, Depends(_scheme)],
) -> Caller:
    ledger: Ledger = request.app.state.ledger
    found = (
        bearer(ledger.store, credentials.credentials, ledger.clock.now_us())
        if credentials
        else None
    )
    if found is None:
        raise no_token()
    site, actor = found
    return Caller(ledger=ledger, site=site, actor=actor)


Bearer = Annotated[Caller, Depends(_caller)]


def no_token() -> HTTPException:
    """What a stranger to the API is told."""
    return HTTPException(
        401,
        "a bearer token is needed: make one with `ringwright token`",
        headers={"WWW-Authenticate": "Bearer"},
    )


def has_token(request: Request) -> bool:
    """True where the request bears a token that opens the API."""
    scheme, token = get_authorization_scheme_param(request.headers.get("authorization"))
    ledger: Ledger = request.app.state.ledger
    return (
        scheme.lower() == "bearer"
        and bearer(ledger.store, token, ledger.clock.now_us()) is not None
    )


SECOND: Final = "Ringwright-Second"
"""Header that bears the second person's own token."""
_Second = Annotated[
    str | None,
    Header(
        alias=SECOND,
        max_length=400,
        description="`Bearer` and the token (`ringwright token --actor`) of a second person of "
        "this site, where the act needs one: a 409 with the error `second-person` says so.",
    ),
]


def _signed(caller: Bearer, second: _Second = None) -> Caller:
    if second is None:
        return caller
    scheme, _, token = second.partition(" ")
    known = scheme.lower() == "bearer" and token.strip()
    found = (
        bearer(caller.ledger.store, token.strip(), caller.ledger.clock.now_us())
        if known
        else None
    )
    if found is None or found[0] != caller.site or not found[1].person:
        raise HTTPException(
            401,
            f"{SECOND} must be `Bearer` and the token of a person of this site; "
            "make one with `ringwright token --role ROLE --actor CODE`",
            headers={"WWW-Authenticate": "Bearer"},
        )
    person = Second(code=found[1].code, roles=found[1].roles)
    return replace(caller, actor=replace(caller.actor, second=person))


Signed = Annotated[Caller, Depends(_signed)]
"""Who asks, and the second person where one signed too."""

"""Who asks for a page: a person signed in, a shared bench, a wall screen, or nobody."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from fastapi import Request
from sqlalchemy import Row
from starlette.requests import HTTPConnection
from starlette.responses import Response

from ringwright.kit.address import client_address
from ringwright.ledger.service import Ledger
from ringwright.people import devices, signing
from ringwright.people.accounts import Desk
from ringwright.people.auditing import Asker
from ringwright.people.marks import hash_of
from ringwright.people.rules import may
from ringwright.sites.site import Person

SESSION: Final = "ringwright"
DEVICE: Final = "ringwright-device"
DEVICE_KEPT_S: Final = 400 * 24 * 3600
"""Browsers keep a cookie for 400 days at most; each use of the device renews it."""


class SignInNeeded(Exception):
    """Nobody is signed in in this browser, or the sign-in is over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visitor:
    """Who asks, of which site."""

    site_id: int
    site: str
    person: Person | None = None
    session: Row[Any] | None = None
    device: Row[Any] | None = None

    @property
    def is_bench(self) -> bool:
        """True for a shared bench: whoever acts there signs each act."""
        return self.device is not None and self.device.kind == devices.BENCH

    @property
    def is_wall(self) -> bool:
        """True for a wall screen, which only shows."""
        return self.device is not None and self.device.kind == devices.WALL

    @property
    def name(self) -> str:
        """The person's code, or where the device stands, for the audit."""
        if self.person is not None:
            return self.person.code
        return str(self.device.label) if self.device is not None else ""

    def may(self, permission: str) -> bool:
        """True when the person signed in may do it."""
        return self.person is not None and may(permission, frozenset(self.person.roles))


def asker_of(request: Request) -> Asker:
    """From where a request came: the address as the server sees it, or its proxy says."""
    return Asker(address=client_address(request), agent=request.headers.get("user-agent", ""))


def keeper_of(request: Request) -> signing.Doorkeeper:
    """Who looks at secrets for this request."""
    state = request.app.state
    return signing.Doorkeeper(
        ledger=state.ledger, throttle=state.throttle, asker=asker_of(request)
    )


def desk_of(request: Request, actor: str = "") -> Desk:
    """Who changes accounts from here: the person signed in, or whoever signed the act."""
    visitor = here(request)
    return Desk(
        ledger=request.app.state.ledger,
        site_id=visitor.site_id,
        site=visitor.site,
        actor=actor or visitor.name,
        asker=asker_of(request),
    )


def visitor_of(request: Request) -> Visitor | None:
    """Who asks, by the cookies of the browser; a person comes before the device they use."""
    ledger: Ledger = request.app.state.ledger
    secret = request.cookies.get(cookie_name(request, SESSION))
    if secret and (found := signing.read_session(ledger, secret)) is not None:
        session, person = found
        return Visitor(
            site_id=session.site_id, site=session.site, person=person, session=session
        )
    token = request.cookies.get(cookie_name(request, DEVICE))
    if token and (device := devices.read_device(ledger, token)) is not None:
        return Visitor(site_id=device.site_id, site=device.site, device=device)
    return None


def here(request: Request) -> Visitor:
    """Who was let in to this page; raises SignInNeeded."""
    visitor: Visitor | None = getattr(request.state, "visitor", None)
    if visitor is None:
        raise SignInNeeded
    return visitor


def say_when(answer: Response, wait_s: int) -> Response:
    """Tell the browser when to try again, where a secret was tried too often (RFC 6585)."""
    if wait_s:
        answer.headers["Retry-After"] = str(wait_s)
    return answer


def cookie_name(request: Request, name: str) -> str:
    """Over TLS a cookie's name binds it to this host and to TLS (RFC 6265bis, 4.1.3.2)."""
    return f"__Host-{name}" if request.url.scheme == "https" else name


def who_takes_files(connection: HTTPConnection) -> str:
    """By whom files are counted: the session, else the address. The gate asks if it is one."""
    for name in (f"__Host-{SESSION}", SESSION):
        if secret := connection.cookies.get(name):
            return hash_of(secret)
    return client_address(connection)


def give_cookie(
    request: Request, answer: Response, name: str, secret: str, kept_s: int | None = None
) -> None:
    """Hand the browser a secret that no script and no other site can read."""
    answer.set_cookie(
        cookie_name(request, name),
        secret,
        max_age=kept_s,
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="lax",
    )


def device_cookie(request: Request) -> str:
    """The line that hands the browser its device's secret anew."""
    answer = Response()
    secret = request.cookies[cookie_name(request, DEVICE)]
    give_cookie(request, answer, DEVICE, secret, DEVICE_KEPT_S)
    return answer.headers["set-cookie"]


def take_cookie(request: Request, answer: Response, name: str) -> None:
    """Let the browser forget a secret."""
    answer.delete_cookie(
        cookie_name(request, name),
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="lax",
    )

"""Lets each request through its door, or turns it away; what has no door is shut."""

from __future__ import annotations

from typing import Final

from fastapi import Depends, Request
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ringwright.core.errors import Forbidden
from ringwright.ledger.service import Ledger
from ringwright.people import devices, signing
from ringwright.people.allowing import may_act
from ringwright.people.auditing import Line, note
from ringwright.people.confirming import Confirmed
from ringwright.people.deps import Bearer
from ringwright.people.marks import check_no_badge
from ringwright.people.queries import read_permits
from ringwright.people.visitor import SignInNeeded, Visitor, asker_of, device_cookie
from ringwright.sites.queries import practice_site_of
from ringwright.web.doors import DOORS, Door

NO_DOOR: Final = "this address is shut: nobody has said who may ask for it"


SCANNED: Final = frozenset({"bench.page", "find.page"})
"""Pages with the scan field in their address: they tell of a badge in their own words."""


def door_of(request: Request) -> Door:
    """The door of the route that was found; raises Forbidden where there is none."""
    door = DOORS.get(door_name(request))
    if door is None:
        raise Forbidden(NO_DOOR, code="no-door")
    return door


def door_name(request: Request) -> str:
    """The name of the route that was found."""
    return str(getattr(request.scope.get("route"), "name", ""))


def page_gate(request: Request) -> None:
    """Let a browser in; raises SignInNeeded or Forbidden, and then nothing was done."""
    door = door_of(request)
    if door_name(request) not in SCANNED:
        check_no_badge(
            (*map(str, request.path_params.values()), *request.query_params.values())
        )
    visitor = request.state.visitor = request.app.state.visitor_of(request)
    if not door.any_of:
        return
    if visitor is None:
        raise SignInNeeded
    _check_site(request, visitor)
    if not _lets(door, visitor) and not _lent(request, door, visitor):
        _denied(request, visitor)
    if request.path_params.get("form"):
        _audit(request, visitor, "export")
    _seen(request, visitor)


def _lets(door: Door, visitor: Visitor) -> bool:
    if visitor.is_bench:
        return door.bench
    if visitor.is_wall:
        return door.wall
    return any(visitor.may(permission) for permission in door.any_of)


def _lent(request: Request, door: Door, visitor: Visitor) -> bool:
    """True where a temporary permission opens the door."""
    if visitor.person is None:
        return False
    ledger: Ledger = request.app.state.ledger
    now_us = ledger.clock.now_us()
    with ledger.store.read() as connection:
        permits = read_permits(connection, visitor.site_id, visitor.name, now_us)
    return any(permit.permission in door.any_of for permit in permits)


def _check_site(request: Request, visitor: Visitor) -> None:
    asked = request.query_params.get("site")
    if not asked or asked == visitor.site:
        return
    ledger: Ledger = request.app.state.ledger
    with ledger.store.read() as connection:
        practice = practice_site_of(connection, visitor.site_id)
    # Whoever works at a site may practise beside it, in the roles they have there.
    if asked != practice:
        raise Forbidden(f"you are signed in at {visitor.site}, not at {asked}")


def _denied(request: Request, visitor: Visitor) -> None:
    _audit(request, visitor, "denied")
    if visitor.person is None:
        raise Forbidden("this screen may not do that; sign in by yourself at another")
    roles = ", ".join(visitor.person.roles)
    raise Forbidden(f"{roles} may not do this; ask somebody whose role allows it")


def _audit(request: Request, visitor: Visitor, kind: str) -> None:
    line = Line(
        kind=kind,
        actor=visitor.name,
        subject=f"{request.method} {request.url.path}",
        why=request.url.query or request.scope["route"].name,
    )
    note(request.app.state.ledger, visitor.site_id, asker_of(request), line)


def _seen(request: Request, visitor: Visitor) -> None:
    """Note the use; a panel that asks by itself is no use of a session."""
    ledger: Ledger = request.app.state.ledger
    if visitor.device is not None:
        if devices.seen(ledger, visitor.device):
            request.state.device_cookie = device_cookie(request)
        return
    by_itself = request.method == "GET" and request.headers.get("HX-Request") == "true"
    if visitor.session is not None and not by_itself:
        signing.used(ledger, visitor.session)


def api_gate(request: Request, caller: Bearer) -> None:
    """Let a token in; raises Forbidden."""
    door = door_of(request)
    actor = caller.actor
    if any(may_act(actor, permission) for permission in door.any_of):
        return
    roles = ", ".join(sorted(actor.roles))
    if not roles:
        raise Forbidden(f"{actor.code} has the role of this key no more; ask for another key")
    if actor.scopes is not None:
        listed = ", ".join(sorted(actor.scopes))
        raise Forbidden(f"this key is narrowed to {listed}; ask for a wider one")
    raise Forbidden(f"{roles} may not do this; ask for a token of another role")


class Renewing:
    """A screen on a wall is let in for good: its cookie is handed out anew while it is used."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Add the cookie that the gate left for the answer, where it left one."""

        async def send_renewed(message: Message) -> None:
            cookie = scope.get("state", {}).get("device_cookie")
            if cookie and message["type"] == "http.response.start":
                MutableHeaders(scope=message).append("Set-Cookie", cookie)
            await send(message)

        await self.app(scope, receive, send_renewed)


PAGES: Final = [Depends(page_gate), Confirmed]
"""What stands before every page."""
API: Final = [Depends(api_gate)]
"""What stands before every operation of the API."""

"""One's own account: password, PIN, and where one is signed in."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Missing, Refused, RingwrightError
from ringwright.kit.forms import Given, Sent
from ringwright.kit.render import page, path_for
from ringwright.people import signing
from ringwright.people.accounts import (
    end_sign_ins,
    read_account,
    set_password,
    set_pin,
)
from ringwright.people.marks import begins_so
from ringwright.people.passwords import fits
from ringwright.people.throttle import TRIES, wait_of
from ringwright.people.visitor import (
    SESSION,
    Visitor,
    desk_of,
    give_cookie,
    here,
    keeper_of,
    say_when,
)
from ringwright.people.words import ROLE_WORDS

PROGRAMS: Final = (
    ("Edg/", "Edge"), ("OPR/", "Opera"), ("Firefox/", "Firefox"), ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
)  # fmt: skip
SYSTEMS: Final = (
    ("Windows", "Windows"), ("Android", "Android"), ("iPhone", "iPhone"), ("iPad", "iPad"),
    ("Mac OS", "macOS"), ("CrOS", "ChromeOS"), ("Linux", "Linux"),
)  # fmt: skip
"""What a user agent says, the more telling mark first: most name several (from memory)."""

FRESH_US: Final = 10 * 60 * 1_000_000
"""How long a sign-on at the shop's server counts as having just proved it."""

router = APIRouter(include_in_schema=False)


@router.get("/account", name="people.own")
def own(request: Request, done: str = "") -> Response:
    """Who am I here, and where else am I signed in?"""
    return _drawn(request, done=done)


@router.post("/account", name="people.own_act")
def own_act(request: Request, sent: Sent) -> Response:
    """Change one's password or PIN, or end sign-ins."""
    act = ACTS.get(sent.text("act"))
    try:
        if act is None:
            raise Refused("that is nothing to do here")
        return act(request, sent)
    except RingwrightError as trouble:
        act_sent, why = sent.text("act"), trouble.message
        answer = _drawn(request, why=why, act=act_sent, status=trouble.status)
        return say_when(answer, wait_of(trouble))


def _drawn(
    request: Request, *, done: str = "", why: str = "", act: str = "", status: int = 200
) -> Response:
    visitor = here(request)
    ledger = request.app.state.ledger
    assert visitor.person is not None
    with ledger.read(visitor.site) as read:
        account = read_account(read.connection, visitor.site_id, visitor.name)
        zone, now_us = read.site.zone, read.now_us
    return page(
        request,
        "people/own.html",
        status=status,
        visitor=visitor,
        account=account,
        proves=account is None or account.password_hash or not account.outside_subject,
        sessions=signing.sessions_of(ledger, visitor.site_id, visitor.name),
        roles=[ROLE_WORDS.get(role, role) for role in visitor.person.roles],
        zone=zone,
        now_us=now_us,
        browser_words=browser_words,
        done=done,
        why=why,
        act=act,
    )


def browser_words(agent: str) -> str:
    """The browser and the system that a user agent names, short enough to be told apart."""
    program = next((name for mark, name in PROGRAMS if mark in agent), agent[:40])
    system = next((name for mark, name in SYSTEMS if mark in agent), "")
    return f"{program}, {system}" if system else program


def _check_current(request: Request, visitor: Visitor, sent: Given) -> None:
    """Whoever found a screen open may not take the account over (ASVS 6.2.3)."""
    keeper = keeper_of(request)
    who = (str(visitor.site_id), visitor.name, keeper.asker.address)
    keeper.throttle.check(TRIES, *who)
    with keeper.ledger.store.read() as connection:
        account = read_account(connection, visitor.site_id, visitor.name)
    kept = account.password_hash if account else None
    if kept is None and account is not None and account.outside_subject:
        _check_fresh(keeper.ledger.clock.now_us(), visitor)
        return
    if not fits(kept, sent.fields.get("current", [""])[-1]):
        keeper.throttle.failed(TRIES, *who)
        raise Refused("that is not your password of now; nothing was changed")


def _check_fresh(now_us: int, visitor: Visitor) -> None:
    """Who has no password here has just proved at the shop's own server who they are."""
    session = visitor.session
    fresh = session is not None and now_us - int(session.made_us) <= FRESH_US
    if not fresh or session is None or session.way != "sign-on":
        raise Refused(
            "you have no password here; sign out, sign in by the shop's server again, "
            "and do it within ten minutes"
        )


def _password(request: Request, sent: Given) -> Response:
    visitor = here(request)
    new = sent.fields.get("password", [""])[-1]
    if new != sent.fields.get("again", [""])[-1]:
        raise Refused("the two new passwords differ; type the same one twice")
    _check_current(request, visitor, sent)
    set_password(desk_of(request), visitor.name, new)
    # Every sign-in ended with the old password; this browser gets a new one.
    secret = signing.open_session(keeper_of(request), visitor.site_id, visitor.name, "password")
    answer = _back(request, "password")
    give_cookie(request, answer, SESSION, secret)
    return answer


def _pin(request: Request, sent: Given) -> Response:
    visitor = here(request)
    _check_current(request, visitor, sent)
    set_pin(desk_of(request), visitor.name, sent.text("pin"))
    return _back(request, "pin")


def _end(request: Request, sent: Given) -> Response:
    visitor = here(request)
    ledger = request.app.state.ledger
    mine = signing.sessions_of(ledger, visitor.site_id, visitor.name)
    row = begins_so(mine, sent.text("session"))
    if row is None:
        raise Missing("that sign-in is over already")
    signing.end_session(ledger, row.hash)
    return _back(request, "ended")


def _end_others(request: Request, _sent: Given) -> Response:
    visitor = here(request)
    mine = visitor.session.hash if visitor.session is not None else None
    end_sign_ins(desk_of(request), visitor.name, but=mine)
    return _back(request, "others")


def _back(request: Request, done: str) -> Response:
    return RedirectResponse(path_for(request, "people.own", done=done), 303)


ACTS: Final[dict[str, Callable[[Request, Any], Response]]] = {
    "password": _password,
    "pin": _pin,
    "end": _end,
    "end-others": _end_others,
}

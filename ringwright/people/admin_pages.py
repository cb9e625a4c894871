"""Accounts, devices, API keys and the audit of the doors, for whoever looks after them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.core.errors import Refused, RingwrightError
from ringwright.kit.datamatrix import mark_of
from ringwright.kit.forms import NOTHING, Given, Sent
from ringwright.kit.render import figures_for, file_answer, page, words_for
from ringwright.ledger.service import Read
from ringwright.people import accounts, devices, keys
from ringwright.people.audit_book import audit_book, read_audit
from ringwright.people.auditing import KINDS
from ringwright.people.overview import read_overview
from ringwright.people.rules import PERMISSIONS
from ringwright.people.visitor import desk_of, here
from ringwright.people.words import PERMISSION_WORDS, ROLE_WORDS
from ringwright.sites.queries import read_people, read_stations
from ringwright.sites.site import ROLES

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class Told:
    """What became of a form: what was done, with what is shown once, or why it was not."""

    done: str = ""
    shown: str = ""
    """A code or key that is told only now."""
    why: str = ""
    status: int = 200
    person: str = ""
    typed: Given = NOTHING


NOTHING_YET: Final = Told()


def _refused(trouble: RingwrightError, typed: Given) -> Told:
    return Told(
        why=trouble.message, status=trouble.status, person=typed.text("person"), typed=typed
    )


def _drawn(
    request: Request, template: str, told: Told, fill: Callable[[Read], dict[str, Any]]
) -> Response:
    """A page of this module, all of it from one snapshot."""
    with request.app.state.ledger.read(here(request).site) as read:
        context = {"zone": read.site.zone, "now_us": read.now_us, **fill(read)}
    return page(request, template, status=told.status, told=told, **context)


@router.get("/accounts", name="people.accounts")
def accounts_page(request: Request) -> Response:
    """Who can sign in, and how?"""
    return _accounts(request)


@router.post("/accounts", name="people.accounts_act")
def accounts_act(request: Request, sent: Sent) -> Response:
    """One change of one account."""
    act, person = sent.text("act"), sent.text("person")
    try:
        do = ACTS.get(act)
        if do is None:
            raise Refused("that is nothing to do here")
        shown = do(desk_of(request), person, sent)
    except RingwrightError as trouble:
        return _accounts(request, _refused(trouble, sent))
    if act == "badge":
        return page(
            request, "people/badge.html", person=person, badge=shown, mark=mark_of(shown)
        )
    return _accounts(request, Told(done=act, person=person, shown=shown))


@router.get("/accounts/badge", name="people.badge")
def badge(request: Request) -> Response:
    """What to do with a badge; one is shown only when it is made."""
    return page(request, "people/badge.html", person="", badge="", mark=None)


def _code(desk: accounts.Desk, person: str, _sent: Given) -> str:
    return accounts.code_for_password(desk, person)


def _badge(desk: accounts.Desk, person: str, _sent: Given) -> str:
    return accounts.make_badge(desk, person)


def _end_badge(desk: accounts.Desk, person: str, _sent: Given) -> str:
    accounts.end_badge(desk, person)
    return ""


def _shut(desk: accounts.Desk, person: str, _sent: Given) -> str:
    accounts.shut_account(desk, person)
    return ""


def _open(desk: accounts.Desk, person: str, _sent: Given) -> str:
    accounts.open_account(desk, person)
    return ""


def _sign_out(desk: accounts.Desk, person: str, _sent: Given) -> str:
    ended = accounts.end_sign_ins(desk, person)
    desk.note(person, f"{ended} ended", "sign-in-ended")
    return ""


def _sign_on(desk: accounts.Desk, person: str, sent: Given) -> str:
    accounts.set_outside_subject(desk, person, sent.text("subject"))
    return ""


ACTS: Final[dict[str, Callable[[accounts.Desk, str, Given], str]]] = {
    "code": _code,
    "badge": _badge,
    "end-badge": _end_badge,
    "shut": _shut,
    "open": _open,
    "sign-out": _sign_out,
    "sign-on": _sign_on,
}


def _accounts(request: Request, told: Told = NOTHING_YET) -> Response:
    def fill(read: Read) -> dict[str, Any]:
        sign_on = getattr(request.app.state, "sign_on", None)
        return {
            "rows": read_overview(read),
            "words_of_roles": ROLE_WORDS,
            "sign_on": sign_on,
        }

    return _drawn(request, "people/accounts.html", told, fill)


@router.get("/devices", name="people.devices")
def devices_page(request: Request) -> Response:
    """Which benches and wall screens are let in?"""
    return _devices(request)


@router.post("/devices", name="people.devices_act")
def devices_act(request: Request, sent: Sent) -> Response:
    """Make a code for a device, or let one in no more."""
    desk = desk_of(request)
    try:
        if sent.text("act") == "end":
            devices.end_device(desk, sent.text("device"))
            return _devices(request, Told(done="end"))
        kind, station = sent.text("kind"), sent.text("station")
        code = devices.invite(desk, kind, station, sent.text("label"))
    except RingwrightError as trouble:
        return _devices(request, _refused(trouble, sent))
    return _devices(request, Told(done="code", shown=code))


def _devices(request: Request, told: Told = NOTHING_YET) -> Response:
    def fill(read: Read) -> dict[str, Any]:
        return {
            "devices": devices.devices(request.app.state.ledger, read.site.id),
            "stations": read_stations(read.connection, read.site.id),
        }

    return _drawn(request, "people/devices.html", told, fill)


@router.get("/keys", name="people.keys")
def keys_page(request: Request) -> Response:
    """Which programs may ask the API?"""
    return _keys(request)


@router.post("/keys", name="people.keys_act")
def keys_act(request: Request, sent: Sent) -> Response:
    """Make a key, or end one."""
    desk = desk_of(request)
    try:
        if sent.text("act") == "end":
            keys.end_key(desk, sent.text("api_key"))
            return _keys(request, Told(done="end"))
        secret = keys.make_key(
            desk,
            sent.text("role"),
            sent.text("person"),
            sent.text("label"),
            sent.texts("scopes"),
            sent.whole("days"),
        )
    except RingwrightError as trouble:
        return _keys(request, _refused(trouble, sent))
    return _keys(request, Told(done="key", shown=secret))


def _keys(request: Request, told: Told = NOTHING_YET) -> Response:
    def fill(read: Read) -> dict[str, Any]:
        return {
            "keys": keys.keys(request.app.state.ledger, read.site.id),
            "people": read_people(read.connection, read.site.id),
            "roles": ROLES,
            "words_of_roles": ROLE_WORDS,
            "permissions": PERMISSIONS,
            "words_of_permissions": PERMISSION_WORDS,
        }

    return _drawn(request, "people/keys.html", told, fill)


@router.get("/audit", name="people.audit")
def audit(request: Request, kind: str = "", who: str = "") -> Response:
    """What happened at the doors?"""
    visitor = here(request)
    with request.app.state.ledger.read(visitor.site) as read:
        lines, total = read_audit(read, kind, who)
        book = audit_book(read, lines, words_for(request), figures_for(request))
    return page(
        request,
        "people/audit.html",
        figures=book.sheets[0],
        book=book,
        shown=len(lines),
        total=total,
        kind=kind,
        who=who,
        kinds=KINDS,
    )


@router.get("/audit/file.{form}", name="people.audit_file")
def audit_file(request: Request, form: str, kind: str = "", who: str = "") -> Response:
    """The lines of the audit as a file, all of them."""
    visitor = here(request)
    with request.app.state.ledger.read(visitor.site) as read:
        lines, _total = read_audit(read, kind, who, most=None)
        book = audit_book(read, lines, words_for(request), figures_for(request))
    return file_answer(request, book, form)

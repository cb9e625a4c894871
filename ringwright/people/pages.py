"""Signing in and out, the first administrator, letting a device in."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Refused, RingwrightError
from ringwright.kit.forms import Sent
from ringwright.kit.render import page, path_for
from ringwright.people import account_pages, admin_pages, devices, sign_on_pages, signing
from ringwright.people.accounts import (
    Desk,
    administrators,
    has_way_in,
    read_code,
    set_password,
    use_code,
)
from ringwright.people.demo import demo_accounts, sign_in_demo
from ringwright.people.entering import let_in, site_if_many
from ringwright.people.passwords import check_password
from ringwright.people.throttle import CODES, wait_of
from ringwright.people.visitor import (
    DEVICE,
    DEVICE_KEPT_S,
    SESSION,
    cookie_name,
    give_cookie,
    keeper_of,
    say_when,
    take_cookie,
)

router = APIRouter(include_in_schema=False)
# Side by side rather than nested: the frame lists the routes of a room's one router.
for more in (account_pages, admin_pages, sign_on_pages):
    router.routes.extend(more.router.routes)

NOTHING_TYPED = {"one_time": "", "code": ""}


@router.get("/sign-in", name="people.sign_in")
def sign_in(request: Request, then: str = "") -> Response:
    """Who are you? A demo offers its accounts; an empty store its first administrator."""
    return _asked(request, {"then": then})


@router.post("/sign-in", name="people.sign_in_act")
def sign_in_act(request: Request, sent: Sent) -> Response:
    """Prove who you are, and go on to the page you wanted."""
    keeper = keeper_of(request)
    site = sent.text("site") or _only_site(request)
    code = sent.text("code")
    try:
        secret = signing.sign_in(keeper, site, code, sent.fields.get("password", [""])[-1])
    except RingwrightError as trouble:
        typed = {"code": code, "then": sent.text("then"), "site": site}
        return _asked(request, typed, trouble)
    return let_in(request, secret, sent.text("then"), site)


@router.post("/sign-in/demo", name="people.demo_act")
def demo_act(request: Request, sent: Sent) -> Response:
    """Sign in as one of the demo's people; no other store has any."""
    keeper = keeper_of(request)
    secret, site = sign_in_demo(keeper, sent.text("site"), sent.text("code"))
    return let_in(request, secret, sent.text("then"), site)


@router.post("/sign-out", name="people.sign_out")
def sign_out(request: Request, sent: Sent) -> Response:
    """This browser forgets who was signed in, and all it kept but bookings not yet sent.

    Its script asks for that (`waiting`) after it has thrown the kept pages away itself.
    """
    secret = request.cookies.get(cookie_name(request, SESSION), "")
    signing.sign_out(keeper_of(request), secret)
    answer = RedirectResponse(path_for(request, "people.sign_in"), 303)
    take_cookie(request, answer, SESSION)
    kept = sent.text("waiting") == "kept"
    answer.headers["Clear-Site-Data"] = '"cache"' if kept else '"cache", "storage"'
    return answer


@router.get("/sign-in/code", name="people.code")
def code(request: Request) -> Response:
    """A one-time code from an administrator becomes a password."""
    return page(request, "people/code.html", told=None, typed=NOTHING_TYPED, first=False)


@router.post("/sign-in/code", name="people.code_act")
def code_act(request: Request, sent: Sent) -> Response:
    """Use the code up, keep the password, sign in."""
    return _by_code(request, sent, first=False)


@router.get("/first", name="people.first")
def first(request: Request) -> Response:
    """The first administrator: the code that the command printed becomes a password."""
    return page(request, "people/code.html", told=None, typed=NOTHING_TYPED, first=True)


@router.post("/first", name="people.first_act")
def first_act(request: Request, sent: Sent) -> Response:
    """Use the printed code up; nobody could sign in before."""
    return _by_code(request, sent, first=True)


@router.get("/device", name="people.device")
def device(request: Request) -> Response:
    """Let this browser in as a shared bench or a wall screen, by a one-time code."""
    return page(request, "people/device.html", told=None)


@router.post("/device", name="people.device_act")
def device_act(request: Request, sent: Sent) -> Response:
    """Keep the device's secret in this browser; whoever was signed in here is signed out."""
    keeper = keeper_of(request)
    try:
        secret = _with_code(
            keeper, lambda: devices.let_in(keeper.ledger, sent.text("one_time"), keeper.asker)
        )
    except RingwrightError as trouble:
        told = trouble.message
        refused = page(request, "people/device.html", status=trouble.status, told=told)
        return say_when(refused, wait_of(trouble))
    found = devices.read_device(keeper.ledger, secret)
    assert found is not None
    route = "floor.wall" if found.kind == devices.WALL else "bench.page"
    answer = RedirectResponse(
        path_for(request, route, site=site_if_many(request, found.site)), 303
    )
    signing.sign_out(keeper, request.cookies.get(cookie_name(request, SESSION), ""))
    take_cookie(request, answer, SESSION)
    give_cookie(request, answer, DEVICE, secret, DEVICE_KEPT_S)
    return answer


def _with_code(keeper: signing.Doorkeeper, use: Any) -> Any:
    """Use a one-time code; one that is none counts against the address it came from."""
    address = keeper.asker.address
    keeper.throttle.check(CODES, address)
    try:
        return use()
    except Refused:
        keeper.throttle.failed(CODES, address)
        raise


def _by_code(request: Request, sent: Sent, *, first: bool) -> Response:
    keeper = keeper_of(request)
    try:
        site_id, person = _set_by_code(keeper, sent, first=first)
    except RingwrightError as trouble:
        typed = {"one_time": sent.text("one_time"), "code": sent.text("code")}
        answer = page(
            request,
            "people/code.html",
            status=trouble.status,
            told=trouble.message,
            typed=typed,
            first=first,
        )
        return say_when(answer, wait_of(trouble))
    secret = signing.open_session(keeper, site_id, person, "code")
    return let_in(request, secret, "/ground" if first else "", "")


def _set_by_code(keeper: signing.Doorkeeper, sent: Sent, *, first: bool) -> tuple[int, str]:
    """(site, person) whose password was set; the code is used up only when all is well."""
    ledger = keeper.ledger
    purpose = "first" if first else "password"
    password = sent.fields.get("password", [""])[-1]
    row = _with_code(keeper, lambda: read_code(ledger, (purpose,), sent.text("one_time")))
    person = sent.text("code") if first else str(row.code)
    if first and has_way_in(ledger):
        raise Refused("an administrator can sign in already; ask one for a code of your own")
    if first and person not in administrators(ledger, row.site_id):
        raise Refused(f"{person or 'nobody'} is no administrator of this site")
    check_password(password, ("ringwright", row.site, person, "password"))
    if password != sent.fields.get("again", [""])[-1]:
        raise Refused("the two passwords differ; type the same one twice")
    use_code(ledger, (purpose,), sent.text("one_time"))
    desk = Desk(
        ledger=ledger, site_id=row.site_id, site=row.site, actor=person, asker=keeper.asker
    )
    set_password(desk, person, password)
    return row.site_id, person


def _asked(request: Request, given: dict[str, str], trouble: Any = None) -> Response:
    typed = {"code": "", "then": "", "site": "", **given}
    ledger = request.app.state.ledger
    sites = ledger.sites(practice=False)
    answer = page(
        request,
        "people/sign_in.html",
        status=trouble.status if trouble else 200,
        told=trouble.message if trouble else "",
        typed=typed,
        sites=sites,
        demo=demo_accounts(ledger),
        bare=not has_way_in(ledger),
        sign_on=getattr(request.app.state, "sign_on", None),
    )
    return say_when(answer, wait_of(trouble))


def _only_site(request: Request) -> str:
    sites = request.app.state.ledger.sites(practice=False)
    return str(sites[0][0]) if len(sites) == 1 else ""

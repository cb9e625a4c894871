"""The two ends of a sign-on: off to the shop's server, and back from it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlsplit

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.core.errors import Missing, Refused, RingwrightError
from ringwright.kit.forms import Sent
from ringwright.kit.render import page
from ringwright.people import signing
from ringwright.people.entering import enter, let_in, where_to
from ringwright.people.throttle import wait_of
from ringwright.people.visitor import (
    cookie_name,
    give_cookie,
    keeper_of,
    say_when,
    take_cookie,
)

if TYPE_CHECKING:
    from ringwright.people.provider import Provider

router = APIRouter(include_in_schema=False)

COOKIE: Final = "ringwright-sign-on"
KEPT_S: Final = 600


@router.post("/sign-in/on", name="people.sign_on")
def begin(request: Request, sent: Sent) -> Response:
    """Off to the sign-on server, by a page of ours.

    Not by a redirect: our policy lets no form lead to another host, and Chromium holds
    redirects after a form to that too (CSP 3, form-action).
    """
    try:
        provider = _provider(request)
        from ringwright.people import sign_on  # its libraries take a quarter of a second

        _check_host(request, provider)
        address, browser = sign_on.begin(keeper_of(request), provider, sent.text("then"))
    except RingwrightError as trouble:
        return _told(request, trouble)
    answer = _shown(request, going=address, name=provider.name)
    answer.headers["Refresh"] = f"0; url={address}"
    give_cookie(request, answer, COOKIE, browser, KEPT_S)
    return answer


@router.get("/sign-in/return", name="people.sign_on_return")
def back(request: Request) -> Response:
    """Back from the sign-on server, with its answer in the address."""
    if not request.url.query:
        return _shown(request)
    try:
        answer = _back(request)
    except RingwrightError as trouble:
        answer = _told(request, trouble)
    if cookie_name(request, COOKIE) in request.cookies:
        take_cookie(request, answer, COOKIE)
    return answer


def _back(request: Request) -> Response:
    provider, keeper = _provider(request), keeper_of(request)
    from ringwright.people import sign_on

    said = sign_on.Answer(
        state=_once(request, "state"),
        code=_once(request, "code"),
        error=_once(request, "error"),
        issuer=_once(request, "iss"),
    )
    browser = request.cookies.get(cookie_name(request, COOKIE), "")
    begun = sign_on.take(keeper.ledger, said.state, browser)
    found = sign_on.finish(keeper, provider, said, begun)
    secret = signing.open_session(keeper, found.site_id, found.code, "sign-on")
    if not found.elsewhere:
        return let_in(request, secret, begun.then, found.site)
    on = where_to(request, begun.then, found.site)
    return enter(request, _shown(request, found=found, on=on), secret)


def _once(request: Request, name: str) -> str:
    """A parameter that must not come twice (RFC 6749, 3.1)."""
    given = request.query_params.getlist(name)
    if len(given) > 1:
        raise Refused(f"the answer says {name} twice; begin anew")
    return given[0] if given else ""


def _provider(request: Request) -> Provider:
    provider: Provider | None = request.app.state.sign_on
    if provider is None:
        raise Missing("no sign-on server is set up here; use a password")
    return provider


def _check_host(request: Request, provider: Provider) -> None:
    """The server sends browsers to one address, where alone they show what they were given."""
    there = urlsplit(provider.address)
    usual = ":443" if there.scheme == "https" else ":80"
    hosts = [text.lower().removesuffix(usual) for text in (request.url.netloc, there.netloc)]
    if hosts[0] != hosts[1]:
        raise Refused(
            f"sign-on works at {provider.address}; open that address and sign in there"
        )


def _told(request: Request, trouble: RingwrightError) -> Response:
    answer = _shown(request, trouble.status, told=trouble.message)
    return say_when(answer, wait_of(trouble))


def _shown(request: Request, status: int = 200, **given: Any) -> Response:
    told = {"going": "", "found": None, "told": "", **given}
    return page(request, "people/sign_on.html", status=status, **told)

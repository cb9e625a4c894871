"""What a browser gets once somebody has proved who they are."""

from __future__ import annotations

import re
from typing import Final

from fastapi import Request
from starlette.responses import RedirectResponse, Response

from ringwright.kit.render import path_for
from ringwright.people import signing
from ringwright.people.visitor import SESSION, cookie_name, give_cookie, keeper_of

_LOCAL: Final = re.compile(r"/(?![/\\])[^\x00-\x20\\]*")


def let_in(request: Request, secret: str, then: str, site: str) -> Response:
    """On to the page that was wanted, with a new session; an older one here is over."""
    return enter(request, RedirectResponse(where_to(request, then, site), 303), secret)


def enter(request: Request, answer: Response, secret: str) -> Response:
    """The answer, with a new session; an older one of this browser is over."""
    signing.sign_out(keeper_of(request), request.cookies.get(cookie_name(request, SESSION), ""))
    give_cookie(request, answer, SESSION, secret)
    return answer


def where_to(request: Request, then: str, site: str) -> str:
    """The page that was wanted if it is one of ours, else Week."""
    home = path_for(request, "flow.week", site=site_if_many(request, site))
    return then if _LOCAL.fullmatch(then) else home


def site_if_many(request: Request, site: str) -> str | None:
    """The site to name in an address; None where there is but one."""
    return site if site and len(request.app.state.ledger.sites(practice=False)) > 1 else None

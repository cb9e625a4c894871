"""What a browser gets when a signature or a sign-in is lacking: a page that asks for it."""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import unquote, urlsplit

from fastapi import Request
from starlette.responses import RedirectResponse, Response

from ringwright.kit.forms import NOTHING, SAFE, Given
from ringwright.kit.render import fragment, page, path_for, wants_fragment
from ringwright.people.confirming import BY, SECOND, signatures_of, slip_for
from ringwright.people.rules import PERMISSIONS
from ringwright.people.visitor import Visitor
from ringwright.people.words import ROLE_WORDS

BADGE_IN: Final = re.compile(r"RWB1", re.IGNORECASE)


def ask_to_sign_in(request: Request) -> Response:
    """The sign-in page for a page; for an act a word beside what was typed, which stays."""
    safe = request.method in SAFE
    if safe and not wants_fragment(request):
        asked = _local(request.url.path, request.url.query)
        # A badge scanned where nobody is signed in is not carried along.
        then = None if asked == "/" or BADGE_IN.search(unquote(asked)) else asked
        return RedirectResponse(path_for(request, "people.sign_in", then=then), 303)
    if not wants_fragment(request):
        return page(request, "people/over.html", status=401)
    answer = fragment(request, "people/_over.html", status=401)
    if not safe:
        answer.headers["HX-Reswap"] = "beforebegin"
    return answer


def ask_signature(
    request: Request,
    whose: str,
    why: str,
    status: int,
    *,
    what: str = "",
    permission: str = "",
) -> Response:
    """The page that asks for a badge or PIN and sends the same form again."""
    given: Given = getattr(request.state, "given", NOTHING)
    visitor: Visitor = request.state.visitor
    if given.files:
        return page(request, "people/no_files.html", status=403)
    by = signatures_of(request).by
    roles = PERMISSIONS.get(permission, frozenset())
    context = {
        "whose": whose,
        "why": why,
        "what": what,
        "who": by.code if by is not None else "",
        "roles": [word for role, word in ROLE_WORDS.items() if role in roles],
        "kept": [
            (name, value)
            for name, values in given.fields.items()
            if not name.startswith((BY, SECOND))
            for value in values
        ],
        "slip": slip_for(request, visitor, given) if whose == "second" else "",
        "act": given.text("act").partition(":")[0].replace("-", " "),
        "serial": request.path_params.get("serial") or given.text("serial"),
        "back": _back(request),
        "address": _local(request.url.path, request.url.query),
        "root": _root(request),
    }
    if wants_fragment(request):
        return fragment(request, "people/_confirm.html", status=status, **context)
    return page(request, "people/confirm.html", status=status, **context)


def _local(path: str, query: str) -> str:
    return f"{path}?{query}" if query else path


def _back(request: Request) -> str:
    """The page that the form stands on, as an address of ours; empty where none is told."""
    parts = urlsplit(request.headers.get("referer", ""))
    local = _local(parts.path, parts.query)
    told = parts.netloc == request.headers.get("host") and local.startswith("/")
    return (
        "" if not told or local.startswith("//") or BADGE_IN.search(unquote(local)) else local
    )


def _root(request: Request) -> str:
    """The id of the piece that will be swapped, so that the answer can be swapped again."""
    found = re.fullmatch(
        r"(?:\w+)?#([A-Za-z][\w-]{0,60})", request.headers.get("HX-Target", "")
    )
    return found[1] if found else "confirm"

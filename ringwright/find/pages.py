"""One box for every name in the shop: a part opens at once, anything else is listed."""

from __future__ import annotations

from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.find.board import Drawing
from ringwright.find.service import Found, find
from ringwright.kit.render import figures_for, page, path_for, words_for
from ringwright.kit.scanned import scanned_text
from ringwright.ledger.service import Ledger
from ringwright.people.marks import looks_like_badge

router = APIRouter(include_in_schema=False)


@router.get("/find", name="find.page")
def find_anything(request: Request, q: str = "", site: str | None = None) -> Response:
    """What a text names. The serial or mark of one part leads straight to that part."""
    ledger: Ledger = request.app.state.ledger
    # A badge scanned by mistake is looked for nowhere and not shown.
    named = "" if looks_like_badge(q) else scanned_text(q)
    with ledger.read(site or None) as read:
        found = find(read, named)
    if found.straight is not None:
        return RedirectResponse(_part_page(request, found.straight), 302)
    return _drawn(request, found)


def _part_page(request: Request, serial: str) -> str:
    if "trace.part" in request.app.state.route_places:
        return path_for(request, "trace.part", serial=serial)
    return path_for(request, "bench.page", scan=serial)


def _drawn(request: Request, found: Found) -> Response:
    drawing = Drawing(
        words_for(request),
        figures_for(request),
        partial(path_for, request),
        request.app.state.route_places,
    )
    return page(request, "find/page.html", board=drawing.board(found))

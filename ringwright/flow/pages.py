"""The Week page and its live panel."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.calendar import parse_instant
from ringwright.core.errors import Refused
from ringwright.flow.board import make_board, ptag_of
from ringwright.flow.service import read_week_sheet
from ringwright.kit.render import (
    figures_for,
    fragment,
    page,
    path_for,
    wants_fragment,
    words_for,
)
from ringwright.ledger.service import Ledger

router = APIRouter(include_in_schema=False)


@router.get("/", name="flow.home")
def home(request: Request) -> Response:
    """The first page is the week."""
    return RedirectResponse(path_for(request, "flow.week"), 302)


@router.get("/week", name="flow.week")
def week(
    request: Request,
    week: str | None = None,
    product: str | None = None,
    as_of: str | None = None,
    site: str | None = None,
) -> Response:
    """Will we make this week's number? Asked by a panel, only the panel answers."""
    ledger: Ledger = request.app.state.ledger
    at_us = _as_of_us(ledger, site, as_of)
    if _unchanged(request, ledger, site):
        return Response(status_code=304)
    with ledger.read(site or None, at_us) as read:
        sheet = read_week_sheet(read, week or None, product or None)
    board = make_board(sheet, words_for(request), figures_for(request))
    shown: dict[str, Any] = {
        "board": board,
        "asked": {"week": week, "product": product, "as_of": as_of},
    }
    if wants_fragment(request):
        answer = fragment(request, "week/_sheet.html", **shown)
        answer.headers["HX-PTag"] = board.ptag
        return answer
    return page(request, "week/week.html", **shown)


def _unchanged(request: Request, ledger: Ledger, site: str | None) -> bool:
    """True when the panel that asks already shows the newest entry and this minute."""
    if not wants_fragment(request) or "HX-PTag" not in request.headers:
        return False
    seq, _ = ledger.head(site or None)
    return request.headers["HX-PTag"] == ptag_of(seq, ledger.clock.now_us())


def _as_of_us(ledger: Ledger, site: str | None, as_of: str | None) -> int | None:
    """The past moment asked for, in site time where no offset is given; raises Refused."""
    if not as_of:
        return None
    with ledger.read(site or None) as read:
        zone, now_us = read.site.zone, read.now_us
    try:
        at_us = parse_instant(as_of, zone)
    except ValueError as trouble:
        raise Refused(str(trouble)) from None
    if at_us > now_us:
        raise Refused("As of a time to come nothing is known yet; give a past one.")
    return at_us

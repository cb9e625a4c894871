"""The Week page and its live panel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.calendar import parse_instant
from ringwright.core.errors import Refused
from ringwright.flow.board import Board, make_board, ptag_of
from ringwright.flow.book import make_book
from ringwright.flow.moment import to_the_minute
from ringwright.flow.service import read_week_sheet
from ringwright.kit.render import (
    figures_for,
    file_answer,
    fragment,
    page,
    path_for,
    wants_fragment,
    words_for,
)
from ringwright.kit.sheets import Book
from ringwright.ledger.service import Ledger

router = APIRouter(include_in_schema=False)


@router.get("/", name="flow.home")
def home(request: Request) -> Response:
    """The first page is the week."""
    return RedirectResponse(path_for(request, "flow.week"), 302)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the address of the page says."""

    week: str | None
    product: str | None
    as_of: str | None
    site: str | None


def _asked(
    week: str | None = None,
    product: str | None = None,
    as_of: str | None = None,
    site: str | None = None,
) -> Asked:
    return Asked(
        week=week or None, product=product or None, as_of=as_of or None, site=site or None
    )


Question = Annotated[Asked, Depends(_asked)]


@router.get("/week", name="flow.week")
def week(request: Request, asked: Question) -> Response:
    """Will we make this week's number? Asked by a panel, only the panel answers."""
    if _unchanged(request, asked):
        return Response(status_code=304)
    return _drawn(request, asked)


@router.get("/week/file.{form}", name="flow.file")
def week_file(
    request: Request, asked: Question, form: str, sheet: str | None = None
) -> Response:
    """The figures of the page as a file to keep."""
    return file_answer(request, _book(request, _board(request, asked)), form, sheet)


def _drawn(request: Request, asked: Asked) -> Response:
    board = _board(request, asked)
    shown: dict[str, Any] = {
        "board": board,
        "book": _book(request, board),
        "asked": asked,
    }
    if wants_fragment(request):
        answer = fragment(request, "week/_sheet.html", **shown)
        answer.headers["HX-PTag"] = board.ptag
        return answer
    return page(request, "week/week.html", **shown)


def _board(request: Request, asked: Asked) -> Board:
    ledger: Ledger = request.app.state.ledger
    at_us = _as_of_us(ledger, asked.site, asked.as_of)
    with ledger.read(asked.site, at_us) as read:
        sheet = read_week_sheet(to_the_minute(read), asked.week, asked.product)
    return make_board(sheet, words_for(request), figures_for(request))


def _book(request: Request, board: Board) -> Book:
    return make_book(board, words_for(request), figures_for(request))


def _unchanged(request: Request, asked: Asked) -> bool:
    """True when the panel that asks already shows the newest entry and this minute."""
    if not wants_fragment(request) or "HX-PTag" not in request.headers:
        return False
    ledger: Ledger = request.app.state.ledger
    seq, _ = ledger.head(asked.site)
    return request.headers["HX-PTag"] == ptag_of(seq, ledger.clock.now_us())


def _as_of_us(ledger: Ledger, site: str | None, as_of: str | None) -> int | None:
    """The past moment asked for, in site time where no offset is given; raises Refused."""
    if not as_of:
        return None
    with ledger.read(site) as read:
        zone, now_us = read.site.zone, read.now_us
    try:
        at_us = parse_instant(as_of, zone)
    except ValueError as trouble:
        raise Refused(str(trouble)) from None
    if at_us > now_us:
        raise Refused("As of a time to come nothing is known yet; give a past one.")
    return at_us

"""The Yield page and its files."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.kit.render import (
    figures_for,
    file_answer,
    fragment,
    page,
    wants_fragment,
    words_for,
)
from ringwright.ledger.service import Ledger
from ringwright.yields import chart_pages, compare_pages, loss_pages
from ringwright.yields.asked import Asked, AskedYield, Links, sheet_of
from ringwright.yields.board import make_board, ptag_of
from ringwright.yields.service import NoProduct
from ringwright.yields.sheets import make_book

router = APIRouter(include_in_schema=False)
router.routes.extend(chart_pages.router.routes)
router.routes.extend(compare_pages.router.routes)
router.routes.extend(loss_pages.router.routes)


@router.get("/yield", name="yields.ladder")
def ladder(request: Request, asked: AskedYield) -> Response:
    """What did each step yield? Asked by a panel, only the panel answers."""
    if _unchanged(request, asked):
        return Response(status_code=304)
    try:
        shown = _shown(request, asked)
    except NoProduct:
        return page(request, "yields/empty.html")
    if not wants_fragment(request):
        return page(request, "yields/yield.html", **shown)
    answer = fragment(request, "yields/_sheet.html", **shown)
    answer.headers["HX-PTag"] = shown["board"].ptag
    return answer


@router.get("/yield/file.{form}", name="yields.file")
def file(request: Request, asked: AskedYield, form: str, sheet: str | None = None) -> Response:
    """The figures of the page as a file to keep."""
    return file_answer(request, _shown(request, asked)["book"], form, sheet)


def _shown(request: Request, asked: Asked) -> dict[str, Any]:
    sheet = sheet_of(request, asked)
    words, show = words_for(request), figures_for(request)
    links = Links(request, asked, sheet)
    board = make_board(sheet, words, show)
    return {
        "board": board,
        "book": make_book(board, words, show, links.group),
        "asked": asked,
        "links": links,
    }


def _unchanged(request: Request, asked: Asked) -> bool:
    """True when the panel that asks already shows the newest entry and this hour."""
    if not wants_fragment(request) or "HX-PTag" not in request.headers:
        return False
    ledger: Ledger = request.app.state.ledger
    seq, _ = ledger.head(asked.site)
    return request.headers["HX-PTag"] == ptag_of(seq, ledger.clock.now_us())

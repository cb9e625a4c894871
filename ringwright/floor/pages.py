"""The Floor page, its list of parts and its wall form."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.bench.printing import MOST
from ringwright.floor import acts_pages, move_pages
from ringwright.floor.asked import Asked, Question, page_code, sheet_of
from ringwright.floor.board import Board, make_board, ptag_of
from ringwright.floor.listing import (
    MOST_SHOWN,
    STATE_WORDS,
    Links,
    Lists,
    filters_of,
    make_book,
    narrow,
    parts_book,
)
from ringwright.floor.wall import WallTurn
from ringwright.kit.render import (
    figures_for,
    file_answer,
    fragment,
    page,
    path_for,
    wants_fragment,
    words_for,
)
from ringwright.ledger.service import Ledger

SERIAL: Final = "0serial0"

router = APIRouter(include_in_schema=False)
# Side by side rather than nested: the frame lists the routes of a room's one router.
router.routes.extend(move_pages.router.routes)
router.routes.extend(acts_pages.router.routes)


@router.get("/floor", name="floor.board")
def board(request: Request, asked: Question) -> Response:
    """Where does the work stand? Asked by a panel, only the panel answers."""
    if _unchanged(request, asked.site, ""):
        return Response(status_code=304)
    drawn = _board(request, asked)
    shown = {"board": drawn, "asked": asked, "figures": _figures(request, drawn, asked)}
    return _panel(request, "floor/_floor.html", "floor/floor.html", drawn.ptag, shown)


@router.get("/floor/file.{form}", name="floor.file")
def board_file(
    request: Request, asked: Question, form: str, sheet: str | None = None
) -> Response:
    """The figures of the page as a file to keep."""
    book = make_book(_board(request, asked), words_for(request), figures_for(request))
    return file_answer(request, book, form, sheet)


@router.get("/floor/parts", name="floor.parts")
def parts(request: Request, asked: Question) -> Response:
    """The parts behind a figure."""
    if _unchanged(request, asked.site, ""):
        return Response(status_code=304)
    sheet = sheet_of(request, asked, all_products=True)
    found = narrow(sheet.parts, asked)
    lists = Lists(sheet, words_for(request), figures_for(request))
    shown = {
        "sheet": sheet,
        "asked": asked,
        "count": len(found),
        "figures": lists.parts(found, links(request), MOST_SHOWN),
        "filters": filters_of(asked, words_for(request)),
        "states": STATE_WORDS,
        "most": MOST_SHOWN,
        "printed": "\n".join(part.serial for part in found[:MOST]),
        "most_printed": MOST,
    }
    ptag = ptag_of(sheet.head_seq, sheet.now_us)
    return _panel(request, "floor/_parts.html", "floor/parts.html", ptag, shown)


@router.get("/floor/parts/file.{form}", name="floor.parts_file")
def parts_file(
    request: Request, asked: Question, form: str, sheet: str | None = None
) -> Response:
    """The whole list as a file to keep."""
    floor = sheet_of(request, asked, all_products=True)
    found = narrow(floor.parts, asked)
    book = parts_book(floor, found, asked, words_for(request), figures_for(request))
    return file_answer(request, book, form, sheet)


@router.get("/floor/wall", name="floor.wall")
def wall(request: Request, asked: Question, turn: WallTurn) -> Response:
    """The floor for a screen on the wall; it only reads, and nobody signs on to it."""
    if _unchanged(request, asked.site, page_code()):
        return Response(status_code=304)
    sheet = sheet_of(request, turn.asked(request, asked))
    drawn = make_board(
        sheet, words_for(request), figures_for(request), wall=True, code=page_code()
    )
    lists = Lists(sheet, words_for(request), figures_for(request))
    shown = {
        "board": drawn,
        "asked": asked,
        "turn": turn,
        "code": page_code(),
        "figures": lists.steps(drawn),
    }
    return _panel(request, "floor/_wall.html", "floor/wall.html", drawn.ptag, shown)


def _board(request: Request, asked: Asked) -> Board:
    sheet = sheet_of(request, asked)
    return make_board(sheet, words_for(request), figures_for(request))


def _figures(request: Request, drawn: Board, asked: Asked) -> Any:
    lists = Lists(drawn.sheet, words_for(request), figures_for(request))

    def link(step: int, state: str) -> str:
        query = {"product": drawn.sheet.product, "step": step, "state": state}
        return path_for(request, "floor.parts", **query, as_of=asked.as_of)

    return lists.steps(drawn, link)


def links(request: Request) -> Links:
    """Where the cells of a part lead; its own page where the installation has one."""
    traced = "trace.part" in request.app.state.route_places
    own = ("trace.part", "serial") if traced else ("bench.page", "scan")
    return Links(
        part=_with_serial(request, *own),
        priority=_with_serial(request, "floor.priority", "serial"),
        search=_with_serial(request, "floor.search", "serial"),
    )


def _with_serial(request: Request, route: str, name: str) -> Callable[[str], str]:
    """Addresses of one route that differ in the serial alone: worked out once."""
    pattern = path_for(request, route, **{name: SERIAL})
    return lambda serial: pattern.replace(SERIAL, quote(serial, safe=""))


def _panel(
    request: Request, piece: str, whole: str, ptag: str, shown: dict[str, Any]
) -> Response:
    shown["ptag"] = ptag
    # What is drawn is of this minute; what runs down on the page runs by the clock itself.
    shown["clock_ms"] = request.app.state.ledger.clock.now_us() // 1000
    if not wants_fragment(request):
        return page(request, whole, **shown)
    answer = fragment(request, piece, **shown)
    answer.headers["HX-PTag"] = ptag
    return answer


def _unchanged(request: Request, site: str | None, code: str) -> bool:
    """True when the panel that asks already shows the newest entry, this minute, this code."""
    if not wants_fragment(request) or "HX-PTag" not in request.headers:
        return False
    ledger: Ledger = request.app.state.ledger
    seq, _ = ledger.head(site)
    return request.headers["HX-PTag"] == ptag_of(seq, ledger.clock.now_us(), code)

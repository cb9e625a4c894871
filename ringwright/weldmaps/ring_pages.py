"""One ring, one weld, one film: their pages and what is recorded on them."""

from __future__ import annotations

from functools import partial
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Missing
from ringwright.flow.moment import past_us
from ringwright.kit.forms import NOTHING, Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.weldmaps.drawing import counted
from ringwright.weldmaps.forms import said_of
from ringwright.weldmaps.pictures import read_pictures
from ringwright.weldmaps.ring_board import NoRing, RingBoard, read_ring_board
from ringwright.weldmaps.service import TellRing
from ringwright.weldmaps.stories import WeldStories
from ringwright.weldmaps.words import CAUTIONS, NOT_DONE, WeldWords
from ringwright.welds.card import CLASSES, LAST_WIRE
from ringwright.welds.defects import DEFECTS

router = APIRouter(include_in_schema=False)
WIRES: Final = (*range(LAST_WIRE, 0, -1), 0)


@router.get("/case/welds/{serial:path}/file.{form}", name="weldmaps.ring_file")
def ring_file(
    request: Request,
    screen: AtScreen,
    serial: str,
    form: str,
    as_of: str | None = None,
    sheet: str | None = None,
) -> Response:
    """The ring's figures as a file."""
    board = _known(screen, serial, as_of)
    return file_answer(
        request, sheets_for(request, screen, board, as_of).book(board), form, sheet
    )


@router.post("/case/welds/{serial:path}/acts", name="weldmaps.act")
def act(request: Request, screen: AtScreen, serial: str, sent: Sent) -> Response:
    """Record one thing of the ring; lead back to the page it was told on."""
    tried = attempt(screen, sent, NOT_DONE, partial(_tell, serial=serial))
    weld, film = sent.text("on_weld"), sent.text("on_film")
    if tried is not None:
        return _again(request, screen, (serial, weld, film), tried)
    onward = {"weldmaps.weld": {"weld": weld}} if weld else {"weldmaps.ring": {}}
    ((route, more),) = onward.items()
    return RedirectResponse(path_for(request, route, serial=serial, **more), 303)


def _tell(screen: Screen, sent: Given, *, serial: str) -> object:
    board = _known(screen, serial, None)
    ring, part = board.ring, board.part
    command = TellRing(
        serial=part.mark or part.serial,
        act=sent.text("act"),
        said=said_of(sent.text("act"), sent, ring),
        key=key_of(sent),
        seen=sent.whole("seen"),
    )
    return screen.ledger.execute(screen.site, command, screen.actor)


def _again(
    request: Request, screen: Screen, where: tuple[str, str, str], tried: Tried
) -> Response:
    serial, weld, film = where
    board = _board(screen, serial, None)
    if isinstance(board, NoRing):
        return _no_ring(request, board)
    if weld in board.ring.welds:
        return _weld_page(request, screen, board, (weld, None), tried)
    if film in board.ring.films:
        return _film_page(request, screen, board, (film, None), tried)
    return _ring_page(request, screen, board, None, tried)


@router.get("/case/welds/{serial:path}/film/{film:path}", name="weldmaps.film")
def show_film(
    request: Request, screen: AtScreen, serial: str, film: str, as_of: str | None = None
) -> Response:
    """What does this film show, and is each weld on it accepted?"""
    board = _board(screen, serial, as_of)
    if isinstance(board, NoRing):
        return _no_ring(request, board)
    return _film_page(request, screen, board, (film, as_of), None)


@router.get("/case/welds/{serial:path}/weld/{weld}", name="weldmaps.weld")
def show_weld(
    request: Request, screen: AtScreen, serial: str, weld: str, as_of: str | None = None
) -> Response:
    """What happened to this weld, and what is next?"""
    board = _board(screen, serial, as_of)
    if isinstance(board, NoRing):
        return _no_ring(request, board)
    return _weld_page(request, screen, board, (weld, as_of), None)


@router.get("/case/welds/{serial:path}", name="weldmaps.ring")
def show_ring(
    request: Request, screen: AtScreen, serial: str, as_of: str | None = None
) -> Response:
    """Which welds of this ring are accepted, and what is next?"""
    board = _board(screen, serial, as_of)
    if isinstance(board, NoRing):
        return _no_ring(request, board)
    return _ring_page(request, screen, board, as_of, None)


def _no_ring(request: Request, found: NoRing) -> Response:
    return page(request, "weldmaps/none.html", found=found, sheet=found.drawn)


def _known(screen: Screen, serial: str, as_of: str | None) -> RingBoard:
    """The ring; raises Missing for a part whose welds nobody asks for."""
    board = _board(screen, serial, as_of)
    if isinstance(board, NoRing):
        raise Missing(f"{board.part.product} asks nothing of the welds of {board.part.serial}")
    return board


def _board(screen: Screen, serial: str, as_of: str | None) -> RingBoard | NoRing:
    at_us = past_us(screen.ledger, screen.site, as_of)
    with screen.ledger.read(screen.site, at_us) as read:
        return read_ring_board(read, serial)


def sheets_for(
    request: Request, screen: Screen, board: RingBoard, as_of: str | None
) -> WeldStories:
    """The sheets for whoever asks: who welded is for those who judge welds."""
    told = WeldWords(words_for(request), figures_for(request))
    judges = screen.person is not None and (
        screen.may("radiograph") or screen.may("correct") or screen.may("welders")
    )
    drawn = board.drawn
    return WeldStories(
        told, partial(path_for, request), drawn.zone, drawn.now_us, judges, as_of or None
    )


def _shown(
    request: Request, screen: Screen, board: RingBoard, as_of: str | None, tried: Tried | None
) -> dict[str, Any]:
    sheets = sheets_for(request, screen, board, as_of)
    return {
        "board": board,
        "sheet": board.drawn,
        "sheets": sheets,
        "told": sheets.told,
        "screen": screen,
        "as_of": as_of or None,
        "tried": tried,
        "given": tried.given if tried else NOTHING,
        "nothing": NOTHING,
        "act": tried.given.text("act") if tried else "",
        "key": new_key(),
        "cautions": CAUTIONS,
        "status": tried.status if tried else 200,
        "colours": board.plan.colours,
        "wires": WIRES,
        "vane_numbers": board.plan.numbers,
        "classes": CLASSES,
        "defects": DEFECTS,
        "states": counted(board.ring),
    }


def _ring_page(
    request: Request, screen: Screen, board: RingBoard, as_of: str | None, tried: Tried | None
) -> Response:
    shown = _shown(request, screen, board, as_of, tried)
    lists = {"book": shown["sheets"].book(board), "answer": shown["told"].ring(board)}
    return page(request, "weldmaps/ring.html", **shown, **lists)


def _weld_page(
    request: Request,
    screen: Screen,
    board: RingBoard,
    which: tuple[str, str | None],
    tried: Tried | None,
) -> Response:
    weld = board.weld(which[0])
    shown = _shown(request, screen, board, which[1], tried)
    story = shown["sheets"].story(board, weld)
    answer = shown["told"].weld(board, weld)
    return page(request, "weldmaps/weld.html", **shown, weld=weld, figures=story, answer=answer)


def _film_page(
    request: Request,
    screen: Screen,
    board: RingBoard,
    which: tuple[str, str | None],
    tried: Tried | None,
) -> Response:
    film = board.film(which[0])
    shown = _shown(request, screen, board, which[1], tried)
    more = {
        "film": film,
        "due": board.due(film),
        "pictures": read_pictures(screen, board.ring.serial, film, which[1]),
        "figures": shown["sheets"].on_film(board, film),
        "answer": shown["told"].film(board, film),
    }
    return page(request, "weldmaps/film.html", **shown, **more)

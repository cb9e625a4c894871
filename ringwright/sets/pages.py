"""Blade sets: the builder, its stock, what comes from a file, and the one act that reserves."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Refused, RingwrightError
from ringwright.core.glossary import N_
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.forms import Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.kit.sheets import Book
from ringwright.people.screen import AtScreen, Screen
from ringwright.sets import set_pages
from ringwright.sets.asked import Asked, Links, asked_of
from ringwright.sets.board import Board, make_board
from ringwright.sets.builder import answered, bare_sheet, read_choice
from ringwright.sets.forms import Tried, loosened, make_form, reserving
from ringwright.sets.model import SetsSheet
from ringwright.sets.run_pages import panel_of
from ringwright.sets.run_pages import router as run_router
from ringwright.sets.run_store import RunNow
from ringwright.sets.runs import read_run
from ringwright.sets.service import Reserve
from ringwright.sets.sheets import SetSheets, make_book, stock_sheets
from ringwright.sets.telling import stock_answer, texts_of

router = APIRouter(include_in_schema=False)
# Side by side rather than nested: the frame lists the routes of the one router of a room.
router.routes.extend(run_router.routes)


@router.get("/sets", name="sets.builder")
def builder(request: Request, screen: AtScreen) -> Response:
    """Which finished blades make a set, and in which slots?"""
    return _drawn(request, screen, asked_of(request))


@router.get("/sets/file.{form}", name="sets.file")
def file(request: Request, screen: AtScreen, form: str, sheet: str | None = None) -> Response:
    """What is shown, as a file."""
    asked = asked_of(request)
    sheet_ = sheet_of(screen, asked, run_of(screen, asked))
    board, book = _book(request, asked, sheet_)
    if board.ring is None:
        raise Refused("there is no answer to keep as a file; see why on the page")
    return file_answer(request, book, form, sheet)


@router.post("/sets/reserve", name="sets.reserve_act")
def reserve(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Reserve the drawn answer in one act; refused, the page is drawn anew and says why."""
    asked = asked_of(request)
    serials, seen = sent.texts("serial"), sent.texts("seen")
    try:
        if len(seen) != len(serials) or not all(s.isascii() and s.isdigit() for s in seen):
            raise Refused("the form does not say what was seen; open the page again")
        command = Reserve(
            key=sent.text("key") or None,
            product=sent.text("product"),
            slots=serials,
            seen={serial: int(seq) for serial, seq in zip(serials, seen, strict=True)},
            asked=dict(asked.less(("as_of", "run", "pool")).fields) or None,
        )
        answer = screen.ledger.execute(screen.site, command, screen.actor)
    except RingwrightError as trouble:
        return _drawn(request, screen, asked, Tried(title=N_("Not reserved"), error=trouble))
    there = _url(request, "sets.set", set_code=answer["set"])
    return RedirectResponse(there or path_for(request, "sets.builder"), 303)


def sheet_of(screen: Screen, asked: Asked, run: RunNow | None) -> SetsSheet:
    """The page's answers, from one snapshot; the search runs after it is closed."""
    at_us = past_us(screen.ledger, screen.site, asked.text("as_of") or None)
    with screen.ledger.read(screen.site, at_us) as read:
        choice = read_choice(to_the_minute(read), asked, run)
    return answered(choice, asked, run)


def run_of(screen: Screen, asked: Asked) -> RunNow | None:
    """The run that the address names; raises Missing."""
    code = asked.text("run")
    return read_run(screen.ledger, screen.site, code) if code else None


def _book(request: Request, asked: Asked, sheet: SetsSheet) -> tuple[Board, Book]:
    words, show = words_for(request), figures_for(request)
    board = make_board(sheet, words, show)
    return board, make_book(
        sheet, board.answer, SetSheets(board, words, show).all(), asked, words
    )


def _drawn(
    request: Request, screen: Screen, asked: Asked, tried: Tried | None = None
) -> Response:
    """The builder as it stands; what is asked wrongly is told on the page itself."""
    run = run_of(screen, asked)
    try:
        sheet = sheet_of(screen, asked, run)
    except Refused as trouble:
        if tried is not None:
            raise
        kept = asked.less({name for name, _ in asked.fields} - {"product", "pool", "as_of"})
        return _drawn(request, screen, kept, Tried(title=N_("Not built"), error=trouble))
    words = words_for(request)
    links = Links(request, asked)
    board, book = _book(request, asked, sheet)
    return page(
        request,
        "sets/builder.html",
        status=tried.error.status if tried else 200,
        board=board,
        book=book,
        sheet=sheet,
        asked=asked,
        links=links,
        screen=screen,
        form=make_form(asked, sheet, board.seats, words),
        reserving=reserving(sheet, words),
        loosened=loosened(sheet, links, words),
        tried=tried,
        key=new_key(),
        panel=panel_of(request, run, words, figures_for(request)) if run else None,
        pool_url=links.page("sets.pool"),
        run_url=links.here("sets.start_run"),
        reserved_url=_url(request, "sets.reserved"),
        mend_url=lambda code: _url(request, "sets.mend", set_code=code),
    )


def _url(request: Request, route: str, **places: str) -> str:
    """An address of the room; empty where this installation does not serve it."""
    if route not in request.app.state.route_places:
        return ""
    return path_for(request, route, **places)


@router.get("/sets/stock", name="sets.stock")
def stock(request: Request, screen: AtScreen) -> Response:
    """Which blades may enter a set, and why does each of the others not?"""
    return page(request, "sets/stock.html", **_stock(request, screen))


@router.get("/sets/stock/file.{form}", name="sets.stock_file")
def stock_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The stock as a file."""
    return file_answer(request, _stock(request, screen)["book"], form, sheet)


def _stock(request: Request, screen: Screen) -> dict[str, Any]:
    """The stock as the address filters it, for the page and its files."""
    asked, words, show = asked_of(request), words_for(request), figures_for(request)
    at_us = past_us(screen.ledger, screen.site, asked.text("as_of") or None)
    with screen.ledger.read(screen.site, at_us) as read:
        choice = read_choice(to_the_minute(read), asked)

    def part(serial: str) -> str:
        return "" if asked.text("pool") else _url(request, "trace.part", serial=serial)

    sheets = stock_sheets(choice.pool, choice.source, words, show, part)
    sheet = bare_sheet(choice)
    texts = texts_of(sheet, words, show)
    answer = stock_answer(sheet, words, show)
    return {
        "sheet": sheet,
        "book": make_book(sheet, answer, sheets, asked, words),
        "asked": asked,
        "links": Links(request, asked),
        "form": make_form(asked, sheet, (), words),
        "texts": texts,
        "answer": answer,
    }


# Last of all: a set's code may be anything, and would swallow the addresses above.
router.routes.extend(set_pages.router.routes)

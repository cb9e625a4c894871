"""Furnace: which run, what must go in before its window is over, what must be decided."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.furnaces.card import PROOFS
from ringwright.furnaces.service import SetFurnace
from ringwright.heat.classes import CLASSES
from ringwright.heatruns import (
    envelope_pages,
    furnace_pages,
    recipe_pages,
    run_pages,
    week_pages,
)
from ringwright.heatruns.board import Board, read_board
from ringwright.heatruns.countdown import draw_countdown
from ringwright.heatruns.forms import furnace_from
from ringwright.heatruns.lists import FurnaceLists
from ringwright.heatruns.load_words import LoadWords
from ringwright.heatruns.running import OpenRun
from ringwright.heatruns.words import STATES, FurnaceWords
from ringwright.kit.cutoff import cut_off
from ringwright.kit.forms import Given, Sent, new_key
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
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.sites.queries import read_stations

router = APIRouter(include_in_schema=False)
router.routes.extend(furnace_pages.router.routes)
router.routes.extend(recipe_pages.router.routes)
router.routes.extend(run_pages.router.routes)
router.routes.extend(week_pages.router.routes)
router.routes.extend(envelope_pages.router.routes)


@router.get("/furnace", name="heatruns.board")
def board(request: Request, screen: AtScreen) -> Response:
    """Which furnaces run, and what must go in before its window is over?"""
    if _unchanged(request, screen):
        return Response(status_code=304)
    return _board(request, screen, None)


@router.get("/furnace/file.{form}", name="heatruns.file")
def board_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The windows and the runs to be decided, as a file."""
    with screen.ledger.read(screen.site) as read:
        found = read_board(read)
    return file_answer(request, _book(request, screen, found), form, sheet)


@router.post("/furnace", name="heatruns.act_board")
def act(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Open a run, or put a furnace on the register."""
    opened: list[str] = []

    def do(screen: Screen, given: Given) -> object:
        answer = _do(screen, given)
        opened.append(str(answer.get("run", "")))
        return answer

    titles = {"open": N_("Run not opened"), "set": N_("Furnace not kept")}
    tried = attempt(screen, sent, titles.get(sent.text("act"), N_("Not done")), do)
    if tried is not None:
        return _board(request, screen, tried)
    if opened[0]:
        return RedirectResponse(path_for(request, "heatruns.run", run=opened[0]), 303)
    code = sent.text("code")
    return RedirectResponse(path_for(request, "heatruns.furnace", furnace=code), 303)


def _do(screen: Screen, sent: Given) -> dict[str, Any]:
    doing = _ACTS.get(sent.text("act"))
    if doing is None:
        raise Refused("that act is not known here; open the page again")
    answer: dict[str, Any] = screen.ledger.execute(screen.site, doing(sent), screen.actor)
    return answer


def _open(sent: Given) -> OpenRun:
    return OpenRun(furnace=sent.text("furnace"), recipe=sent.text("recipe"), key=key_of(sent))


def _set(sent: Given) -> SetFurnace:
    return SetFurnace(furnace=furnace_from(sent, sent.text("code")), key=key_of(sent))


_ACTS: Final[dict[str, Callable[[Given], Any]]] = {"open": _open, "set": _set}


def _lists(request: Request, screen: Screen) -> FurnaceLists:
    link = partial(path_for, request)
    return FurnaceLists(words_for(request), figures_for(request), link, screen.zone)


def _board(request: Request, screen: Screen, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site) as read:
        found = read_board(read)
        stations = read_stations(read.connection, read.site.id)
    told = FurnaceWords(words_for(request), figures_for(request))
    lists = _lists(request, screen)
    shown: dict[str, Any] = {
        "board": found,
        "answer": told.answer(found, screen.zone),
        "told": told,
        "next_told": LoadWords(words_for(request), figures_for(request), screen.zone),
        "countdown": draw_countdown(found.waiting, found.now_us),
        "windows": lists.windows(found),
        "to_decide": lists.runs(found.to_decide, words_for(request)._("Runs to be decided")),
        "states": STATES,
        "proof_words": PROOFS,
        "furnace_classes": CLASSES,
        "stations": [one for one in stations if one.code not in {x.code for x in found.lines}],
        "ptag": _ptag(found.drawn.head_seq, found.now_us),
        "screen": screen,
        "zone": screen.zone,
        "tried": tried,
        "given": tried.given if tried else Given(fields={}, files={}),
        "key": new_key(),
    }
    if wants_fragment(request):
        answer = fragment(request, "heatruns/_board.html", **shown)
        answer.headers["HX-PTag"] = shown["ptag"]
        return answer
    status = tried.status if tried else 200
    return page(request, "heatruns/board.html", status=status, **shown)


def _book(request: Request, screen: Screen, found: Board) -> Book:
    words, lists = words_for(request), _lists(request, screen)
    told = FurnaceWords(words, figures_for(request)).answer(found, screen.zone)
    drawn = replace(found.drawn, now_us=found.now_us - found.now_us % 60_000_000)
    return Book(
        page="furnace",
        question=words._("Which furnaces run, and what must go in before its window is over?"),
        answer="; ".join(piece for piece, _ in told),
        filters=(),
        cut_off=cut_off(drawn, words, figures_for(request)),
        zone=screen.zone,
        at_us=drawn.now_us,
        sheets=(
            lists.windows(found),
            lists.runs(found.to_decide, words._("Runs to be decided")),
        ),
    )


def _ptag(head_seq: int, now_us: int) -> str:
    """What the panel shows: the newest entry, and the minute, since the windows run down."""
    return f"{head_seq}-{now_us // 60_000_000}"


def _unchanged(request: Request, screen: Screen) -> bool:
    if not wants_fragment(request) or "HX-PTag" not in request.headers:
        return False
    ledger: Ledger = screen.ledger
    seq, _ = ledger.head(screen.site)
    return request.headers["HX-PTag"] == _ptag(seq, ledger.clock.now_us())

"""The Bench: a scan opens a part, a press books on it. No address here books on a GET."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from ringwright.bench import print_pages, sentencing_pages
from ringwright.bench.board import KINDS, OUTCOMES, ended_us, make_board
from ringwright.bench.desk import View, act, look, view_of
from ringwright.bench.forms import CARDS
from ringwright.bench.waiting import send
from ringwright.core.errors import RingwrightError
from ringwright.kit.forms import Sent
from ringwright.kit.render import (
    STATIC,
    figures_for,
    fragment,
    page,
    path_for,
    wants_fragment,
    words_for,
)
from ringwright.parts.words import PLACE_WORDS
from ringwright.people.screen import AtScreen, choose

router = APIRouter(include_in_schema=False)
# Side by side rather than nested: the frame lists the routes of a room's one router.
router.routes.extend(sentencing_pages.router.routes)
router.routes.extend(print_pages.router.routes)


@router.get("/bench", name="bench.page")
def bench(request: Request, screen: AtScreen) -> Response:
    """What was scanned, opened; nothing is ever booked from here."""
    view = look(screen, request.query_params)
    status = 200 if view.refusal is None else 422
    return _drawn(request, view, status)


@router.post("/bench/acts/{serial:path}", name="bench.act")
def press(request: Request, screen: AtScreen, serial: str, sent: Sent) -> Response:
    """One act on a part; without scripts the browser is led on to what it did."""
    outcome = act(screen, serial, sent)
    if outcome.trouble is None and not wants_fragment(request):
        return RedirectResponse(_onward(request, serial, outcome.entry, sent.text("then")), 303)
    return _drawn(request, view_of(screen, outcome), outcome.status)


def _onward(request: Request, serial: str, entry: int | None, then: str) -> str:
    """What the act did, at the Bench or on the page of the part that it came from."""
    if then == "part":
        return path_for(request, "trace.part", serial=serial)
    return path_for(request, "bench.page", scan=serial, entry=entry)


@router.post("/bench/sent/{serial:path}", name="bench.send_waiting")
def send_waiting(screen: AtScreen, serial: str, sent: Sent) -> Response:
    """One act that waited in the browser; the script there is told what became of it."""
    try:
        status, told = send(screen, serial, sent)
    except RingwrightError as error:
        status, told = error.status, {"why": error.message, "code": error.code}
    return JSONResponse(told, status_code=status)


@router.get("/bench/worker.js", name="bench.worker")
def worker() -> Response:
    """The script that keeps the Bench in the browser; it may look after no page but that."""
    headers = {"Service-Worker-Allowed": "/bench", "Cache-Control": "no-cache"}
    body = (STATIC / "js" / "worker.js").read_bytes()
    return Response(body, media_type="text/javascript; charset=utf-8", headers=headers)


@router.get("/bench/station", name="bench.station")
def station(request: Request, screen: AtScreen) -> Response:
    """Choose the station, once for this screen."""
    return page(request, "bench/station.html", screen=screen, then="bench")


@router.post("/bench/station", name="bench.choose")
def choose_station(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Keep the choice in this browser and go on."""
    then = {"ground": "ground.rules", "sentence": "bench.nonconformities"}
    route = then.get(sent.text("then"), "bench.page")
    scan = sent.text("scan") if route == "bench.page" else ""
    onward = RedirectResponse(path_for(request, route, scan=scan or None), 303)
    return choose(screen, onward, sent.text("station"))


@router.get("/bench/cards", name="bench.cards")
def cards(request: Request, screen: AtScreen) -> Response:
    """The act cards, to be printed and scanned; those of a practice site say so."""
    del screen  # asked for so that the answer is known to be about its site
    return page(request, "bench/cards.html", cards=CARDS)


def _drawn(request: Request, view: View, status: int) -> Response:
    words, figures = words_for(request), figures_for(request)
    context: dict[str, Any] = {
        "view": view,
        "screen": view.screen,
        "board": make_board(view, words, figures),
        "zone": view.screen.zone,
        "places": PLACE_WORDS,
        "outcomes": OUTCOMES,
        "kinds": KINDS,
        "ended_us": ended_us,
    }
    if wants_fragment(request):
        return fragment(request, "bench/_bench.html", status=status, **context)
    return page(request, "bench/page.html", status=status, **context)

"""One part's whole history on a page, by any mark it bears or bore."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.core.errors import Missing
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.forms import new_key
from ringwright.kit.render import (
    figures_for,
    file_answer,
    fragment,
    page,
    path_for,
    wants_fragment,
    words_for,
)
from ringwright.people.screen import AtScreen, Screen
from ringwright.trace.history import read_history
from ringwright.trace.part_board import PartDrawing
from ringwright.trace.queries import near_serials

router = APIRouter(include_in_schema=False)


@router.get("/parts/{serial:path}/file.{form}", name="trace.part_file")
def part_file(
    request: Request,
    screen: AtScreen,
    serial: str,
    form: str,
    sheet: str | None = None,
) -> Response:
    """The whole history as a file."""
    return file_answer(request, _drawing(request, screen, serial).book(), form, sheet)


@router.get("/parts/{serial:path}", name="trace.part")
def part(request: Request, screen: AtScreen, serial: str) -> Response:
    """Where has this part been? For a serial that is not there, serials like it."""
    try:
        return _unchanged(request, screen) or _shown(request, screen, serial)
    except Missing as trouble:
        with screen.ledger.read(screen.site) as read:
            near = near_serials(read, serial)
        return page(
            request, "trace/missing.html", status=404, asked=serial, near=near, why=str(trouble)
        )


def _unchanged(request: Request, screen: Screen) -> Response | None:
    if not wants_fragment(request) or "HX-PTag" not in request.headers:
        return None
    seq, _ = screen.ledger.head(screen.site)
    tag = f"{seq}-{screen.ledger.clock.now_us() // 60_000_000}"
    return Response(status_code=304) if request.headers["HX-PTag"] == tag else None


def _drawing(request: Request, screen: Screen, serial: str) -> PartDrawing:
    at_us = past_us(screen.ledger, screen.site, request.query_params.get("as_of", ""))
    with screen.ledger.read(screen.site, at_us) as snapshot:
        history = read_history(to_the_minute(snapshot), serial)
    words, show = words_for(request), figures_for(request)
    return PartDrawing(history, words, show, lambda route, **v: path_for(request, route, **v))


def _shown(request: Request, screen: Screen, serial: str) -> Response:
    board = _drawing(request, screen, serial).board(probable=screen.may("trust readings"))
    shown: dict[str, Any] = {
        "board": board,
        "serial": serial,
        "may_attach": screen.may("attach") and not screen.shared,
        "attach_key": new_key(),
        "as_of": request.query_params.get("as_of") or None,
        "has_floor": "floor.parts" in request.app.state.route_places,
    }
    if wants_fragment(request):
        answer = fragment(request, "trace/_part.html", **shown)
        answer.headers["HX-PTag"] = board.ptag
        return answer
    return page(request, "trace/part.html", **shown)

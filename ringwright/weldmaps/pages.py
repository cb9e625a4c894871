"""Weld maps: rings under way, films that wait, plans."""

from __future__ import annotations

from functools import partial
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.flow.moment import past_us
from ringwright.kit.cutoff import Snapshot
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.ledger.drawn import snapshot_of
from ringwright.people.screen import AtScreen, Screen
from ringwright.routecards.queries import read_revisions
from ringwright.weldmaps import plan_pages, ring_pages
from ringwright.weldmaps.queries import WeldsUnderWay, read_under_way
from ringwright.weldmaps.sheets import WeldSheets
from ringwright.weldmaps.words import WeldWords

router = APIRouter(include_in_schema=False)


@router.get("/case/welds", name="weldmaps.board")
def board(request: Request, screen: AtScreen, as_of: str | None = None) -> Response:
    """Which rings have an open weld, and which film waits for its reader?"""
    found, drawn, cases = _read(screen, as_of)
    sheets = _sheets(request, drawn, as_of)
    shown: dict[str, Any] = {
        "found": found,
        "sheet": drawn,
        "as_of": as_of or None,
        "answer": sheets.told.all_rings(found),
        "book": sheets.book_of_all(found, drawn),
        "cases": cases,
        "screen": screen,
    }
    return page(request, "weldmaps/board.html", **shown)


@router.get("/case/welds/file.{form}", name="weldmaps.file")
def board_file(
    request: Request,
    screen: AtScreen,
    form: str,
    as_of: str | None = None,
    sheet: str | None = None,
) -> Response:
    """The same as a file."""
    found, drawn, _cases = _read(screen, as_of)
    book = _sheets(request, drawn, as_of).book_of_all(found, drawn)
    return file_answer(request, book, form, sheet)


router.routes.extend(plan_pages.router.routes)
router.routes.extend(ring_pages.router.routes)


def _read(screen: Screen, as_of: str | None) -> tuple[WeldsUnderWay, Snapshot, tuple[str, ...]]:
    """What is under way; and the products that are cases, for which a plan may be added."""
    at_us = past_us(screen.ledger, screen.site, as_of)
    with screen.ledger.read(screen.site, at_us) as read:
        found = read_under_way(read)
        planned = {one.plan.product for one in found.plans}
        cases = {
            one.product
            for one in read_revisions(read.connection, read.site.id)
            if one.card.family == "case" and one.product not in planned
        }
        return found, snapshot_of(read, to_the_minute=True), tuple(sorted(cases))


def _sheets(request: Request, drawn: Snapshot, as_of: str | None) -> WeldSheets:
    told = WeldWords(words_for(request), figures_for(request))
    link = partial(path_for, request)
    return WeldSheets(told, link, drawn.zone, drawn.now_us, as_of=as_of or None)

"""The Spread page and its files."""

from __future__ import annotations

from functools import partial
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.core.errors import Refused
from ringwright.flow.moment import to_the_minute
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.people.screen import AtScreen
from ringwright.spread.board import SpreadWords, draw
from ringwright.spread.queries import (
    ALL,
    LAST,
    LATEST,
    USUAL,
    Asked,
    read_spreads,
)
from ringwright.spread.sheets import AMONG, COUNTS, SpreadLists

router = APIRouter(include_in_schema=False)

SHOWN: Final = 40


@router.get("/spread", name="spread.page")
def spread(request: Request, screen: AtScreen) -> Response:
    """How do readings spread, and does one drift before it makes scrap?"""
    asked = _asked(request)
    with screen.ledger.read(screen.site) as read:
        sheet = read_spreads(to_the_minute(read), asked)
    if sheet is None:
        return page(request, "spread/empty.html", screen=screen)
    lists = _lists(request)
    show = figures_for(request)
    chosen = sheet.chosen
    return page(
        request,
        "spread/spread.html",
        screen=screen,
        sheet=sheet,
        told=SpreadWords(words_for(request), show),
        answer=lists.told.answer(sheet),
        drifts=any(map(lists.told.drifts, [chosen] if chosen else sheet.spreads)),
        all=lists.all(sheet),
        book=lists.book(sheet),
        indices=lists.indices(chosen) if chosen else None,
        readings=lists.readings(chosen, sheet, SHOWN) if chosen else None,
        pictures=draw(chosen, show) if chosen else None,
        among=AMONG,
        counts=COUNTS,
        last=LAST,
        zone=screen.zone,
    )


@router.get("/spread/file.{form}", name="spread.file")
def spread_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The figures of the page as a file."""
    with screen.ledger.read(screen.site) as read:
        found = read_spreads(to_the_minute(read), _asked(request))
    if found is None:
        raise Refused("no product has a route card yet")
    return file_answer(request, _lists(request).book(found), form, sheet)


def _lists(request: Request) -> SpreadLists:
    return SpreadLists(words_for(request), figures_for(request), partial(path_for, request))


def _asked(request: Request) -> Asked:
    given = request.query_params
    step, dot, code = given.get("of", "").partition(".")
    last = given.get("last", "") or str(USUAL)
    if given.get("of") and not (dot and step.isascii() and step.isdigit() and len(step) < 9):
        raise Refused("say which characteristic as its step, a point and its code")
    if not (last.isascii() and last.isdigit() and len(last) < 9):
        raise Refused("last is how many parts, a whole number")
    return Asked(
        product=given.get("product", ""),
        code=code,
        step=int(step) if step else 0,
        last=int(last),
        among=given.get("among", "") or ALL,
        counts=given.get("counts", "") or LATEST,
        since=given.get("since", "").strip(),
    )

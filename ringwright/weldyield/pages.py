"""The Weld yield page and its files."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.render import figures_for, file_answer, page, words_for
from ringwright.people.screen import AtScreen, Screen
from ringwright.weldyield.asked import Asked, AskedWelds, Text
from ringwright.weldyield.drawing import draw_ladder
from ringwright.weldyield.model import DIMENSIONS, WELDER, WeldYield
from ringwright.weldyield.service import check_asker, may_see_welders, read_weld_yield
from ringwright.weldyield.words import WeldYieldWords

router = APIRouter(include_in_schema=False)


@router.get("/case/weld-yield", name="weldyield.page")
def weld_yield(request: Request, screen: AtScreen, asked: AskedWelds) -> Response:
    """How many welds are accepted at the first radiograph, and what do repairs cost?"""
    found = _found(screen, asked)
    if not found.products:
        return page(request, "weldyield/empty.html", screen=screen)
    return page(request, "weldyield/yield.html", **_shown(request, screen, asked, found))


@router.get("/case/weld-yield/file.{form}", name="weldyield.file")
def weld_yield_file(
    request: Request, screen: AtScreen, asked: AskedWelds, form: str, sheet: Text = None
) -> Response:
    """The figures of the page as a file."""
    lists = WeldYieldWords(_found(screen, asked), words_for(request), figures_for(request))
    return file_answer(request, lists.book(), form, sheet)


def _found(screen: Screen, asked: Asked) -> WeldYield:
    # At a shared bench nobody is signed in, so nobody sees welders there.
    check_asker(asked.question, screen.signed)
    at_us = past_us(screen.ledger, screen.site, asked.as_of)
    with screen.ledger.read(screen.site, at_us) as snapshot:
        return read_weld_yield(to_the_minute(snapshot), asked.question)


def _shown(request: Request, screen: Screen, asked: Asked, found: WeldYield) -> dict[str, Any]:
    lists = WeldYieldWords(found, words_for(request), figures_for(request))
    sees = may_see_welders(screen.signed)
    return {
        "screen": screen,
        "asked": asked,
        "found": found,
        "lists": lists,
        "answer": lists.answer(),
        "ladder": draw_ladder(found.counted.groups, found.counted.first),
        "dimensions": [
            (code, name) for code, name in DIMENSIONS.items() if sees or code != WELDER
        ],
        "sheets": lists.sheets(),
    }

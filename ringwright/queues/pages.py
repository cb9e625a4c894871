"""The Queues page and its files."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.core.errors import Refused
from ringwright.flow.moment import past_us, to_the_minute
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
from ringwright.queues.extra import FEW, ExtraSheet, read_extra
from ringwright.queues.hour_sheet import HourLists
from ringwright.queues.model import QueuesSheet
from ringwright.queues.remembered import HOURS, SHEETS
from ringwright.queues.service import USUAL_WEEKS, WEEKS, read_queues
from ringwright.queues.sheet import SHOWN, QueueLists, picture

router = APIRouter(include_in_schema=False)


@router.get("/queues", name="queues.page")
def queues(request: Request, screen: AtScreen) -> Response:
    """Where is the neck, and what waits there?"""
    sheet = _sheet(request, screen)
    lists = _lists(request)
    groups = [group for group in sheet.groups if group.waiting]
    return page(
        request,
        "queues/queues.html",
        screen=screen,
        sheet=sheet,
        as_of=request.query_params.get("as_of") or None,
        answer=lists.answer(sheet),
        book=lists.book(sheet),
        groups=lists.groups(sheet),
        lines=lists.lines(sheet),
        waiting=[lists.waiting(sheet, group, SHOWN) for group in groups[:1]],
        others=[lists.waiting(sheet, group, SHOWN) for group in groups[1:]],
        pictures=[
            (one.product, drawn, lists.standing(one.line, one))
            for one in sheet.lines
            if (drawn := picture(one)) is not None
        ],
        choices=WEEKS,
    )


@router.get("/queues/hour", name="queues.hour")
def hour(request: Request, screen: AtScreen) -> Response:
    """Where would an hour more release most? Asked by Queues, only the piece answers."""
    shown = _hour_shown(request, _hour_sheet(request, screen))
    if wants_fragment(request):
        return fragment(request, "queues/_hour.html", screen=screen, **shown)
    return page(request, "queues/hour.html", screen=screen, **shown)


@router.get("/queues/file.{form}", name="queues.file")
def queues_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The figures of the page as a file, with everything that waits and an hour more."""
    book = _lists(request).book(_sheet(request, screen))
    more = _hours(request).sheet(_hour_sheet(request, screen))
    return file_answer(request, replace(book, sheets=(*book.sheets, more)), form, sheet)


def _hour_shown(request: Request, sheet: ExtraSheet) -> dict[str, Any]:
    lists, found = _hours(request), sheet.gains
    return {
        "sheet": sheet,
        "as_of": request.query_params.get("as_of") or None,
        "answer": lists.answer(sheet),
        "told": lists.told(sheet),
        "drawn": lists.picture(sheet),
        "figures": lists.sheet(sheet),
        "planned": ", ".join(f"{product} {number}" for product, number in sheet.planned),
        "left_out": ", ".join(found.left_out) if found else "",
        "few": FEW,
    }


def _hour_sheet(request: Request, screen: Screen) -> ExtraSheet:
    at_us = past_us(screen.ledger, screen.site, request.query_params.get("as_of"))
    with screen.ledger.read(screen.site, at_us) as snapshot:
        read = to_the_minute(snapshot)
        return HOURS.answer(read, "hour", partial(read_extra, read))


def _hours(request: Request) -> HourLists:
    return HourLists(words_for(request), figures_for(request))


def _sheet(request: Request, screen: Screen) -> QueuesSheet:
    given = request.query_params
    weeks = given.get("weeks") or str(USUAL_WEEKS)
    if weeks not in [str(choice) for choice in WEEKS]:
        raise Refused("choose 1, 2 or 4 weeks")
    at_us = past_us(screen.ledger, screen.site, given.get("as_of"))
    with screen.ledger.read(screen.site, at_us) as snapshot:
        read = to_the_minute(snapshot)
        return SHEETS.answer(read, weeks, lambda: read_queues(read, int(weeks)))


def _lists(request: Request) -> QueueLists:
    return QueueLists(words_for(request), figures_for(request), partial(path_for, request))

"""The Queues page and its files."""

from __future__ import annotations

from functools import partial
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.core.errors import Refused
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.ledger.remembered import Remembered
from ringwright.people.screen import AtScreen, Screen
from ringwright.queues.model import QueuesSheet
from ringwright.queues.service import USUAL_WEEKS, WEEKS, read_queues
from ringwright.queues.sheet import SHOWN, QueueLists, picture

router = APIRouter(include_in_schema=False)
SHEETS: Final = Remembered[QueuesSheet]()


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


@router.get("/queues/file.{form}", name="queues.file")
def queues_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The figures of the page as a file, with everything that waits."""
    book = _lists(request).book(_sheet(request, screen))
    return file_answer(request, book, form, sheet)


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

"""The Starts page and its files."""

from __future__ import annotations

from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.core.calendar import site_time
from ringwright.core.errors import Refused
from ringwright.flow.moment import to_the_minute
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.people.screen import AtScreen
from ringwright.starts.asked import asked_of
from ringwright.starts.service import read_starts
from ringwright.starts.sheets import StartsLists

router = APIRouter(include_in_schema=False)


@router.get("/starts", name="starts.page")
def starts(request: Request, screen: AtScreen) -> Response:
    """How many parts to start for so many sets by a day?"""
    with screen.ledger.read(screen.site) as read:
        sheet = read_starts(to_the_minute(read), asked_of(request.query_params))
    if sheet is None:
        return page(request, "starts/empty.html", screen=screen)
    lists = _lists(request)
    return page(
        request,
        "starts/starts.html",
        screen=screen,
        sheet=sheet,
        answer=lists.answer(sheet),
        too_late=lists.too_late(sheet),
        day=site_time(sheet.due_us - 1, screen.zone).date().isoformat(),
        sure=f"{sheet.asked.sure * 100:g}",
        typed={step: f"{y * 100:g}" for step, y in sheet.asked.yields.items()},
        ladder=lists.ladder(sheet),
        steps=lists.steps(sheet),
        book=lists.book(sheet),
        zone=screen.zone,
    )


@router.get("/starts/file.{form}", name="starts.file")
def starts_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The figures of the page as a file."""
    with screen.ledger.read(screen.site) as read:
        found = read_starts(to_the_minute(read), asked_of(request.query_params))
    if found is None:
        raise Refused("no product has a route card yet")
    return file_answer(request, _lists(request).book(found), form, sheet)


def _lists(request: Request) -> StartsLists:
    return StartsLists(words_for(request), figures_for(request), partial(path_for, request))

"""The furnace week and its files."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from ringwright.flow.board import ptag_of
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.heatruns.next_load import suggested
from ringwright.heatruns.week import WeekOfFurnaces, read_furnace_week
from ringwright.heatruns.week_board import WeekBoard, make_week_board
from ringwright.heatruns.week_lists import WeekLists
from ringwright.heatruns.week_words import SHORT
from ringwright.kit.render import (
    figures_for,
    file_answer,
    fragment,
    page,
    path_for,
    wants_fragment,
    words_for,
)
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Ledger

router = APIRouter(include_in_schema=False)
WEEKS: Final = Remembered[WeekOfFurnaces]()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the address of the page says."""

    week: str | None
    as_of: str | None
    site: str | None


def _asked(week: str | None = None, as_of: str | None = None, site: str | None = None) -> Asked:
    return Asked(week=week or None, as_of=as_of or None, site=site or None)


Question = Annotated[Asked, Depends(_asked)]


@router.get("/furnace/week", name="heatruns.week")
def week(request: Request, asked: Question) -> Response:
    """How well were the furnaces used, and what goes in next?"""
    if _unchanged(request, asked):
        return Response(status_code=304)
    shown: dict[str, Any] = {"board": _board(request, asked), "asked": asked, "states": SHORT}
    if not wants_fragment(request):
        return page(request, "heatruns/week.html", **shown)
    answer = fragment(request, "heatruns/_week.html", **shown)
    answer.headers["HX-PTag"] = shown["board"].ptag
    return answer


@router.get("/furnace/week/file.{form}", name="heatruns.week_file")
def week_file(
    request: Request, asked: Question, form: str, sheet: str | None = None
) -> Response:
    """The figures of the page as a file to keep."""
    return file_answer(request, _board(request, asked).book, form, sheet)


def _board(request: Request, asked: Asked) -> WeekBoard:
    ledger: Ledger = request.app.state.ledger
    at_us = past_us(ledger, asked.site, asked.as_of)
    with ledger.read(asked.site, at_us) as snapshot:
        read = to_the_minute(snapshot)
        sheet = WEEKS.answer(read, asked.week, lambda: read_furnace_week(read, asked.week))
        present = sheet.start_us <= sheet.now_us < sheet.end_us and not sheet.as_of
        coming = suggested(read) if present and sheet.furnaces else None
    link = partial(path_for, request)
    lists = WeekLists(words_for(request), figures_for(request), link, sheet.zone)
    return make_week_board(sheet, coming, lists)


def _unchanged(request: Request, asked: Asked) -> bool:
    """True when the panel that asks already shows the newest entry and this minute."""
    if not wants_fragment(request) or "HX-PTag" not in request.headers:
        return False
    ledger: Ledger = request.app.state.ledger
    seq, _ = ledger.head(asked.site)
    return request.headers["HX-PTag"] == ptag_of(seq, ledger.clock.now_us())

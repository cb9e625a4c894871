"""Case shop: the machine week and its files."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from ringwright.caseshop import board_pages, machine_pages
from ringwright.caseshop.board import Asked as AskedBoard
from ringwright.caseshop.board import Line, read_case_board
from ringwright.caseshop.lists import CaseLists
from ringwright.caseshop.ruler import Placing, Ruler, Week
from ringwright.caseshop.week import CaseWeek, MachineWeek, read_case_week
from ringwright.caseshop.words import CAUTION, CaseWords
from ringwright.core.calendar import week_before
from ringwright.flow.answer import Piece
from ringwright.flow.board import ptag_of
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.heatruns.week_ruler import Axis, draw_axis
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
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Ledger

router = APIRouter(include_in_schema=False)
router.routes.extend(board_pages.router.routes)
router.routes.extend(machine_pages.router.routes)
WEEKS: Final = Remembered[tuple[CaseWeek, tuple[Line, ...]]]()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the address of the page says."""

    week: str | None
    as_of: str | None
    site: str | None


def _asked(week: str | None = None, as_of: str | None = None, site: str | None = None) -> Asked:
    return Asked(week=week or None, as_of=as_of or None, site=site or None)


Question = Annotated[Asked, Depends(_asked)]


@dataclass(frozen=True, kw_only=True)
class Strip:
    """One machine: its week, its ruler, what stands beside it."""

    machine: MachineWeek
    ruler: Ruler
    said: list[str]
    described: str


@dataclass(frozen=True, kw_only=True)
class Shown:
    """Everything the page draws."""

    sheet: CaseWeek
    told: CaseWords
    answer: tuple[Piece, ...]
    axis: Axis
    strips: tuple[Strip, ...]
    book: Book
    before: str
    after: str

    @property
    def ptag(self) -> str:
        """What the panel shows: the newest entry, and the minute."""
        return ptag_of(self.sheet.head_seq, self.sheet.now_us)


@router.get("/case", name="caseshop.week")
def week(request: Request, asked: Question) -> Response:
    """What is on each machine, what comes next, and where did the hours of the week go?"""
    if _unchanged(request, asked):
        return Response(status_code=304)
    shown: dict[str, Any] = {
        "board": _shown(request, asked),
        "asked": asked,
        "caution": CAUTION,
    }
    if not wants_fragment(request):
        return page(request, "caseshop/week.html", **shown)
    answer = fragment(request, "caseshop/_week.html", **shown)
    answer.headers["HX-PTag"] = shown["board"].ptag
    return answer


@router.get("/case/file.{form}", name="caseshop.week_file")
def week_file(
    request: Request, asked: Question, form: str, sheet: str | None = None
) -> Response:
    """The figures of the page as a file to keep."""
    return file_answer(request, _shown(request, asked).book, form, sheet)


def _shown(request: Request, asked: Asked) -> Shown:
    ledger: Ledger = request.app.state.ledger
    at_us = past_us(ledger, asked.site, asked.as_of)
    with ledger.read(asked.site, at_us) as snapshot:
        read = to_the_minute(snapshot)

        def work() -> tuple[CaseWeek, tuple[Line, ...]]:
            found = read_case_week(read, asked.week)
            planned = found.present and found.machines
            return found, read_case_board(read, AskedBoard()).lines if planned else ()

        sheet, lines = WEEKS.answer(read, asked.week, work)
    words, show = words_for(request), figures_for(request)
    return _drawn(sheet, lines, CaseLists(words, show, partial(path_for, request), sheet.zone))


def _drawn(sheet: CaseWeek, lines: tuple[Line, ...], lists: CaseLists) -> Shown:
    told, _ = lists.told, lists.words._
    answer = told.answer(sheet)
    return Shown(
        sheet=sheet,
        told=told,
        answer=answer,
        axis=draw_axis(sheet.start_us, sheet.end_us, sheet.now_us, sheet.zone),
        strips=tuple(_strip(sheet, one, lines, told) for one in sheet.machines),
        book=lists.book(
            "case shop",
            _("What is on each machine, and where did the hours go?"),
            sheet,
            "".join(piece.text for piece in answer),
            lists.machines(sheet),
            lists.cases(sheet),
            lists.stops(sheet.stops, _("Stops, by reason and machine")),
        ),
        before=week_before(sheet.week),
        after=week_before(sheet.week, -1),
    )


def _strip(
    sheet: CaseWeek, one: MachineWeek, lines: tuple[Line, ...], told: CaseWords
) -> Strip:
    coming = [line for line in lines if line.placement.machine == one.code and not line.on]
    on = [
        Placing(
            label=case.stay.serial, begin_us=case.begin_us, end_us=case.end_us,
            stays=case.stay.on,
        )
        for case in one.cases
    ]  # fmt: skip
    planned = [
        Placing(
            label=line.placement.serial, begin_us=line.start_us, end_us=line.end_us,
            held=line.placement.locked,
        )
        for line in coming
    ]  # fmt: skip
    drawn = Week(sheet.start_us, sheet.end_us)
    return Strip(
        machine=one,
        ruler=drawn.ruler(on, one.spans, planned, one.working),
        said=told.then(one) if sheet.over else told.beside(one, coming[0] if coming else None),
        described=told.ruler(one),
    )


def _unchanged(request: Request, asked: Asked) -> bool:
    """True when the panel that asks already shows the newest entry and this minute."""
    if not wants_fragment(request) or "HX-PTag" not in request.headers:
        return False
    ledger: Ledger = request.app.state.ledger
    seq, _ = ledger.head(asked.site)
    return request.headers["HX-PTag"] == ptag_of(seq, ledger.clock.now_us())

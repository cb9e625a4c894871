"""The Week page and its live panel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import RingwrightError
from ringwright.flow import forecast_pages
from ringwright.flow.board import Board, make_board, ptag_of
from ringwright.flow.book import make_book
from ringwright.flow.editions import Drawn, EntryLink, PublishedBlock
from ringwright.flow.model import WeekSheet
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.flow.published import read_publications
from ringwright.flow.publishing import PublishWeek
from ringwright.flow.sheet import read_week_sheet
from ringwright.kit.forms import Sent, new_key
from ringwright.kit.render import (
    figures_for,
    file_answer,
    fragment,
    page,
    path_for,
    wants_fragment,
    words_for,
)
from ringwright.kit.sheets import Book, plain
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Ledger
from ringwright.people.screen import AtScreen, Screen

router = APIRouter(include_in_schema=False)
router.routes.extend(forecast_pages.router.routes)
WEEKS: Final = Remembered[WeekSheet]()


@router.get("/", name="flow.home")
def home(request: Request) -> Response:
    """The first page is the week."""
    return RedirectResponse(path_for(request, "flow.week"), 302)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the address of the page says."""

    week: str | None
    product: str | None
    as_of: str | None
    site: str | None


def _asked(
    week: str | None = None,
    product: str | None = None,
    as_of: str | None = None,
    site: str | None = None,
) -> Asked:
    return Asked(
        week=week or None, product=product or None, as_of=as_of or None, site=site or None
    )


Question = Annotated[Asked, Depends(_asked)]


@router.get("/week", name="flow.week")
def week(request: Request, asked: Question, screen: AtScreen) -> Response:
    """Will we make this week's number? Asked by a panel, only the panel answers."""
    if _unchanged(request, asked):
        return Response(status_code=304)
    return _drawn(request, asked, screen)


@router.get("/week/file.{form}", name="flow.file")
def week_file(
    request: Request, asked: Question, form: str, sheet: str | None = None
) -> Response:
    """The figures of the page as a file to keep."""
    return file_answer(request, _drawing(request, asked).book, form, sheet)


@router.post("/week/publish", name="flow.publish")
def publish(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Put a product's week on record as it was shown; refused, the page says why."""
    only = sent.text("only")
    command = PublishWeek(
        product=sent.text("product"),
        week=sent.text("week"),
        seen=sent.text("seen"),
        key=sent.text("key") or new_key(),
        reason=sent.text("reason"),
    )
    asked = Asked(week=command.week, product=only or None, as_of=None, site=screen.site)
    try:
        screen.ledger.execute(screen.site, command, screen.actor)
    except RingwrightError as error:
        trouble = Trouble(command.product, error.message, command.reason)
        return _drawn(request, asked, screen, trouble, error.status)
    onward = path_for(request, "flow.week", week=command.week, product=asked.product)
    return RedirectResponse(f"{onward}#published-{plain(command.product)}", 303)


@dataclass(frozen=True, slots=True)
class Trouble:
    """A refused publication: of which product, why, and the reason that was typed."""

    product: str
    why: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """The page's figures in the reader's language."""

    board: Board
    book: Book
    blocks: dict[str, PublishedBlock]
    """By product: what is published of the week."""


def _drawn(
    request: Request,
    asked: Asked,
    screen: Screen,
    trouble: Trouble | None = None,
    status: int = 200,
) -> Response:
    drawing = _drawing(request, asked)
    shown: dict[str, Any] = {
        "board": drawing.board,
        "book": drawing.book,
        "blocks": drawing.blocks,
        "asked": asked,
        "screen": screen,
        "trouble": trouble,
    }
    if wants_fragment(request):
        answer = fragment(request, "week/_sheet.html", **shown)
        answer.headers["HX-PTag"] = drawing.board.ptag
        return answer
    return page(request, "week/week.html", status=status, **shown)


def _drawing(request: Request, asked: Asked) -> Drawing:
    """Everything from one snapshot: the week, and what was published of it."""
    ledger: Ledger = request.app.state.ledger
    words, show = words_for(request), figures_for(request)
    at_us = past_us(ledger, asked.site, asked.as_of)
    with ledger.read(asked.site, at_us) as snapshot:
        read = to_the_minute(snapshot)
        sheet = WEEKS.answer(
            read,
            (asked.week, asked.product),
            lambda: read_week_sheet(read, asked.week, asked.product),
        )
        numbers = [strip.numbers for strip in sheet.strips]
        publications = read_publications(read, numbers)
    board = make_board(sheet, words, show)
    drawn = Drawn(words, show, sheet.zone, sheet.now_us, _entry_link(request))
    blocks = {
        each.product: drawn.block(publication, each)
        for each, publication in zip(numbers, publications, strict=True)
    }
    return Drawing(board=board, book=make_book(board, blocks, words, show), blocks=blocks)


def _entry_link(request: Request) -> EntryLink:
    def link(serial: str, entry: int) -> str:
        return path_for(request, "bench.entries", serial=serial) + f"#entry-{entry}"

    return link


def _unchanged(request: Request, asked: Asked) -> bool:
    """True when the panel that asks already shows the newest entry and this minute."""
    if not wants_fragment(request) or "HX-PTag" not in request.headers:
        return False
    ledger: Ledger = request.app.state.ledger
    seq, _ = ledger.head(asked.site)
    return request.headers["HX-PTag"] == ptag_of(seq, ledger.clock.now_us())

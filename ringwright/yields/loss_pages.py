"""What scrap and rework cost and where they lay, on a page of their own, and its files."""

from __future__ import annotations

from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Ledger
from ringwright.yields.asked import YIELDS, Asked, AskedYield, Links, Text
from ringwright.yields.board import make_board
from ringwright.yields.loss_words import LossWords
from ringwright.yields.losses import Lost, read_losses
from ringwright.yields.model import YieldSheet
from ringwright.yields.service import NoProduct, read_scope, read_yield

router = APIRouter(include_in_schema=False)
TERMS: Final = ("caused", "found", "rework ratio", "scrap ratio", "entry", "head")
LOSSES: Final = Remembered[tuple[Lost, ...]]()


def losses_of(ledger: Ledger, asked: Asked) -> tuple[YieldSheet, tuple[Lost, ...]]:
    """The yields, and what was lost, from one snapshot."""
    question = asked.question
    with ledger.read(asked.site, past_us(ledger, asked.site, asked.as_of)) as snapshot:
        read = to_the_minute(snapshot)
        sheet = YIELDS.answer(read, question, lambda: read_yield(read, question))
        parts = LOSSES.answer(
            read, question,
            lambda: read_losses(read, read_scope(read, question, sheet.product)),
        )  # fmt: skip
    return sheet, parts


@router.get("/yield/losses", name="yields.losses")
def losses(request: Request, asked: AskedYield) -> Response:
    """What did scrap cost, and where did it lie?"""
    try:
        shown = _shown(request, asked)
    except NoProduct:
        return page(request, "yields/empty.html")
    return page(request, "yields/losses.html", **shown)


@router.get("/yield/losses/file.{form}", name="yields.losses_file")
def losses_file(request: Request, asked: AskedYield, form: str, sheet: Text = None) -> Response:
    """The losses as a file, part by part."""
    return file_answer(request, _shown(request, asked)["book"], form, sheet)


def _shown(request: Request, asked: Asked) -> dict[str, Any]:
    sheet, parts = losses_of(request.app.state.ledger, asked)
    words, show = words_for(request), figures_for(request)
    board = make_board(sheet, words, show)
    lists = LossWords(board, parts, words, show)
    sheets = lists.sheets(lambda serial: path_for(request, "trace.part", serial=serial))
    return {
        "sheet": sheet, "board": board, "lists": lists, "asked": asked, "terms": TERMS,
        "links": Links(request, asked, sheet).at("yields.losses"), "book": lists.book(sheets),
        "shown": [one for one in sheets if one.code.startswith("lost")],
    }  # fmt: skip

"""What scrap and rework cost and where they lay, on a page of their own, and its files."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.kit.render import figures_for, file_answer, path_for, words_for
from ringwright.yields.asked import Asked, AskedYield, Links, Text, snapshot_asked
from ringwright.yields.board import make_board
from ringwright.yields.depth import read_lost
from ringwright.yields.depth_frame import Shown, answered, framed
from ringwright.yields.loss_words import LossWords

router = APIRouter(include_in_schema=False)
TERMS: Final = ("caused", "found", "rework ratio", "scrap ratio", "entry", "head")


@router.get("/yield/losses", name="yields.losses")
def losses(request: Request, asked: AskedYield) -> Response:
    """What did scrap cost, and where did it lie?"""
    return answered(request, "yields/losses.html", lambda: _shown(request, asked))


@router.get("/yield/losses/file.{form}", name="yields.losses_file")
def losses_file(request: Request, asked: AskedYield, form: str, sheet: Text = None) -> Response:
    """The losses as a file, part by part."""
    return file_answer(request, _shown(request, asked)["book"], form, sheet)


def _shown(request: Request, asked: Asked) -> Shown:
    with snapshot_asked(request, asked) as read:
        sheet, parts = read_lost(read, asked.question)
    words, show = words_for(request), figures_for(request)
    board = make_board(sheet, words, show)
    lists = LossWords(board, parts, words, show)
    sheets = lists.sheets(lambda serial: path_for(request, "trace.part", serial=serial))
    links = Links(request, asked, sheet).at("yields.losses")
    return framed(links, sheet, lists, lists.book(sheets), TERMS) | {
        "board": board,
        "shown": [one for one in sheets if one.code.startswith("lost")],
    }

"""Two groups compared, on their own page, and its files."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.kit.render import figures_for, file_answer, words_for
from ringwright.yields.asked import Asked, AskedYield, Links, Text, snapshot_asked
from ringwright.yields.compare_words import BY_WORDS, CompareWords
from ringwright.yields.depth import TwoGroups, read_comparison
from ringwright.yields.depth_asked import AskedGroups
from ringwright.yields.depth_frame import Shown, answered, framed

router = APIRouter(include_in_schema=False)
TERMS: Final = ("first-pass yield", "final yield", "load", "small n", "head")


@router.get("/yield/compare", name="yields.compare")
def comparing(request: Request, asked: AskedYield, two: AskedGroups) -> Response:
    """Do two groups differ by more than chance?"""
    return answered(request, "yields/compare.html", lambda: _shown(request, asked, two))


@router.get("/yield/compare/file.{form}", name="yields.compare_file")
def comparing_file(
    request: Request, asked: AskedYield, two: AskedGroups, form: str, sheet: Text = None
) -> Response:
    """The comparison as a file."""
    return file_answer(request, _shown(request, asked, two)["book"], form, sheet)


def _shown(request: Request, asked: Asked, two: TwoGroups) -> Shown:
    with snapshot_asked(request, asked) as read:
        sheet, found = read_comparison(read, asked.question, two)
    lists = CompareWords(sheet, found, words_for(request), figures_for(request))
    own = (("one", two.first), ("other", two.second))
    links = Links(request, asked, sheet).at("yields.compare", *own)
    return framed(links, sheet, lists, lists.book((lists.pairs(),)), TERMS) | {
        "found": found,
        "dimensions": [(code, name) for code, name in BY_WORDS.items() if code != "product"],
    }

"""Two groups compared, on their own page, and its files."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.render import figures_for, file_answer, page, words_for
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Ledger, Read
from ringwright.yields.asked import YIELDS, Asked, AskedYield, Links, Text
from ringwright.yields.compare_words import BY_WORDS, CompareWords
from ringwright.yields.comparing import Comparison, compare
from ringwright.yields.groups import each_load_by
from ringwright.yields.model import YieldSheet
from ringwright.yields.service import NoProduct, read_scope, read_yield

router = APIRouter(include_in_schema=False)
TERMS: Final = ("first-pass yield", "final yield", "load", "small n", "head")
COMPARED: Final = Remembered[Comparison]()


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoGroups:
    """The groups that are named; None is one of the largest."""

    first: str | None
    second: str | None


def asked_groups(one: Text = None, other: Text = None) -> TwoGroups:
    """The two groups that an address names."""
    return TwoGroups(first=one, second=other)


AskedGroups = Annotated[TwoGroups, Depends(asked_groups)]


def comparison_of(
    ledger: Ledger, asked: Asked, two: TwoGroups
) -> tuple[YieldSheet, Comparison]:
    """The comparison from one snapshot, with the loads of each group where they count."""
    question = asked.question
    if question.by in (None, "product"):
        question = replace(question, by="week")
    with ledger.read(asked.site, past_us(ledger, asked.site, asked.as_of)) as snapshot:
        read = to_the_minute(snapshot)
        sheet = YIELDS.answer(read, question, lambda: read_yield(read, question))
        found = COMPARED.answer(
            read,
            (question, two),
            lambda: compare(sheet, _loads(read, sheet), two.first, two.second),
        )
    return sheet, found


def _loads(read: Read, sheet: YieldSheet) -> dict[str, list[tuple[int, int]]] | None:
    """The loads of each group where the step works in loads; else None."""
    step = sheet.step(sheet.question.step)
    if step is None or not step.in_loads:
        return None
    scope = read_scope(read, sheet.question, sheet.product)
    names = [name for _, _, name in scope.weeks]
    found: dict[str, list[tuple[int, int]]] = {}
    for row in read.connection.execute(each_load_by(read, scope, step.number, sheet.by)):
        key = names[row.key] if sheet.by == "week" else row.key or ""
        found.setdefault(key, []).append((int(row.passes), int(row.firsts)))
    return found


@router.get("/yield/compare", name="yields.compare")
def comparing(request: Request, asked: AskedYield, two: AskedGroups) -> Response:
    """Do two groups differ by more than chance?"""
    try:
        shown = _shown(request, asked, two)
    except NoProduct:
        return page(request, "yields/empty.html")
    return page(request, "yields/compare.html", **shown)


@router.get("/yield/compare/file.{form}", name="yields.compare_file")
def comparing_file(
    request: Request, asked: AskedYield, two: AskedGroups, form: str, sheet: Text = None
) -> Response:
    """The comparison as a file."""
    return file_answer(request, _shown(request, asked, two)["book"], form, sheet)


def _shown(request: Request, asked: Asked, two: TwoGroups) -> dict[str, Any]:
    sheet, found = comparison_of(request.app.state.ledger, asked, two)
    lists = CompareWords(sheet, found, words_for(request), figures_for(request))
    own = (("one", two.first), ("other", two.second))
    links = Links(request, asked, sheet).at("yields.compare", *own)
    sheets = (lists.pairs(),)
    return {
        "sheet": sheet, "found": found, "lists": lists, "links": links, "asked": asked,
        "terms": TERMS, "book": lists.book(sheets),
        "dimensions": [(code, name) for code, name in BY_WORDS.items() if code != "product"],
    }  # fmt: skip

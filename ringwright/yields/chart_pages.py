"""The control chart of a yield, on its own page, and its files."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from ringwright.core.errors import Refused
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.kit.sheets import Sheet
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Ledger
from ringwright.measure.signals import FOUR_OF_FIVE, RULES, SIDE, TWO_OF_THREE
from ringwright.yields.asked import YIELDS, Asked, AskedYield, Links, Text
from ringwright.yields.chart_drawing import draw_control
from ringwright.yields.chart_words import RULE_SOURCES, RULE_WORDS, ChartWords
from ringwright.yields.charting import KINDS, Control, Dot, Told, make_control, told_of
from ringwright.yields.model import YieldSheet
from ringwright.yields.parts import Behind, read_behind
from ringwright.yields.service import NoProduct, read_scope, read_yield
from ringwright.yields.sheets import filters_of

router = APIRouter(include_in_schema=False)
TERMS: Final = ("first-pass yield", "final yield", "load", "p-chart", "small n", "head")
BEHIND: Final = Remembered[tuple[Behind, ...]]()
ASKED_AS: Final = {SIDE: "side", TWO_OF_THREE: "two", FOUR_OF_FIVE: "four"}
"""A rule to its name in an address."""
Kind = Annotated[
    str | None, Query(max_length=200, json_schema_extra={"enum": [*KINDS, "", None]})
]
Chosen = Annotated[
    str | None, Query(max_length=200, json_schema_extra={"enum": ["yes", "", None]})
]


def asked_chart(
    kind: Kind = None,
    side: Chosen = None,
    two: Chosen = None,
    four: Chosen = None,
    point: Text = None,
) -> Told:
    """What the address asks of the chart; raises Refused."""
    said = {SIDE: side, TWO_OF_THREE: two, FOUR_OF_FIVE: four}
    unclear = [text for text in said.values() if text not in (None, "", "yes")]
    if unclear:
        raise Refused(f"a rule is chosen by yes, not by {unclear[0]!r:.40}")
    return told_of(kind, [rule for rule, text in said.items() if text], point)


AskedChart = Annotated[Told, Depends(asked_chart)]


def chart_of(
    ledger: Ledger, asked: Asked, told: Told
) -> tuple[YieldSheet, Control, tuple[Behind, ...]]:
    """The chart, and the parts of the point that is opened, from one snapshot."""
    question = asked.question
    with ledger.read(asked.site, past_us(ledger, asked.site, asked.as_of)) as snapshot:
        read = to_the_minute(snapshot)
        sheet = YIELDS.answer(read, question, lambda: read_yield(read, question))
        point = told.point
        parts: tuple[Behind, ...] = ()
        if point is not None:
            parts = BEHIND.answer(read, (question, point), lambda: read_behind(
                read, read_scope(read, question, sheet.product), question.step, point,
            ))  # fmt: skip
    return sheet, make_control(sheet, told), parts


@router.get("/yield/chart", name="yields.chart")
def chart(request: Request, asked: AskedYield, told: AskedChart) -> Response:
    """Is the yield of a step, or the final yield, changing?"""
    try:
        shown = _shown(request, asked, told)
    except NoProduct:
        return page(request, "yields/empty.html")
    return page(request, "yields/chart.html", **shown)


@router.get("/yield/chart/file.{form}", name="yields.chart_file")
def chart_file(
    request: Request, asked: AskedYield, told: AskedChart, form: str, sheet: Text = None
) -> Response:
    """The chart's points, and the parts of the point that is opened, as a file."""
    return file_answer(request, _shown(request, asked, told)["book"], form, sheet)


def _shown(request: Request, asked: Asked, told: Told) -> dict[str, Any]:
    sheet, control, parts = chart_of(request.app.state.ledger, asked, told)
    words, show = words_for(request), figures_for(request)
    chosen = ((ASKED_AS[rule], "yes") for rule in told.more)
    own = (("kind", told.kind), ("point", told.point), *chosen)
    links = Links(request, asked, sheet).at("yields.chart", *own)
    lists = ChartWords(sheet, control, words, show)
    sheets: tuple[Sheet, ...] = (lists.points(lambda dot: _leads(links, dot)),)
    if told.point is not None:
        sheets += (lists.behind(told.point, parts, lambda serial: path_for(
            request, "trace.part", serial=serial)),)  # fmt: skip
    return {
        "sheet": sheet, "control": control, "told": told, "lists": lists, "links": links,
        "drawing": draw_control(control), "asked": asked, "terms": TERMS,
        "book": lists.book(sheets, filters_of(sheet, words)),
        "rules": [
            (rule, ASKED_AS.get(rule), RULE_WORDS[rule], RULE_SOURCES[rule]) for rule in RULES
        ],
    }  # fmt: skip


def _leads(links: Links, dot: Dot) -> str:
    """From a point to its parts, which open below."""
    return links.to(point=dot.name) + "#figures-parts"

"""The control chart of a yield or of hours, on its own page, and its files."""

from __future__ import annotations

from functools import partial
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.kit.render import figures_for, file_answer, path_for, words_for
from ringwright.kit.sheets import Sheet
from ringwright.measure.signals import RULES
from ringwright.yields.asked import Asked, AskedYield, Links, Text, snapshot_asked
from ringwright.yields.chart_drawing import draw_control
from ringwright.yields.chart_words import RULE_SOURCES, RULE_WORDS, VIEWS, ChartWords
from ringwright.yields.charting import Dot, Told
from ringwright.yields.depth import read_chart
from ringwright.yields.depth_asked import ASKED_AS, AskedChart
from ringwright.yields.depth_frame import Shown, answered, framed

router = APIRouter(include_in_schema=False)
TERMS: Final = ("first-pass yield", "final yield", "load", "p-chart", "small n", "cycle time",
                "reconciliation", "head")  # fmt: skip
ROWS: Final = 60
"""So many points stand on the page where there are more; the file has them all."""


@router.get("/yield/chart", name="yields.chart")
def chart(request: Request, asked: AskedYield, told: AskedChart) -> Response:
    """Is the yield of a step, the final yield, or the time they take changing?"""
    return answered(request, "yields/chart.html", lambda: _shown(request, asked, told))


@router.get("/yield/chart/file.{form}", name="yields.chart_file")
def chart_file(
    request: Request, asked: AskedYield, told: AskedChart, form: str, sheet: Text = None
) -> Response:
    """The chart's points, and the parts of the point that is opened, as a file."""
    return file_answer(request, _shown(request, asked, told)["book"], form, sheet)


def _shown(request: Request, asked: Asked, told: Told) -> Shown:
    with snapshot_asked(request, asked) as read:
        found = read_chart(read, asked.question, told)
    words, show = words_for(request), figures_for(request)
    chosen = ((ASKED_AS[rule], "yes") for rule in told.more)
    own = (("kind", told.kind), ("point", told.point), *chosen)
    links = Links(request, asked, found.sheet).at("yields.chart", *own)
    lists = ChartWords(found.sheet, found.control, words, show)
    leads = partial(_leads, request, links)
    sheets: tuple[Sheet, ...] = (lists.points(leads),)
    if told.point is not None:
        part = partial(path_for, request, "trace.part")
        sheets += (lists.behind(told.point, found.behind, lambda serial: part(serial=serial)),)
    return framed(links, found.sheet, lists, lists.book(sheets), TERMS) | {
        "control": found.control,
        "told": told,
        "drawing": draw_control(found.control),
        "figures_shown": (*sheets[1:], lists.points(leads, ROWS)),
        "views": [(code, words._(name)) for code, name in VIEWS[found.control.step is None]],
        "rules": [
            (rule, ASKED_AS.get(rule), RULE_WORDS[rule], RULE_SOURCES[rule]) for rule in RULES
        ],
    }


def _leads(request: Request, links: Links, dot: Dot) -> str:
    """From a point to its parts, which open below; from a single part to its history."""
    if dot.part:
        return path_for(request, "trace.part", serial=dot.part)
    return links.to(point=dot.name) + "#figures-parts"

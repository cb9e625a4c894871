"""Chart, comparison and losses over HTTP: the numbers of the pages below Yield."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, Any

from fastapi import APIRouter, Depends

from ringwright.flow.moment import to_the_minute
from ringwright.kit.instants import as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.ledger.service import Read
from ringwright.people.deps import Bearer
from ringwright.yields import depth_forms as forms
from ringwright.yields.asked import Asked, asked_of
from ringwright.yields.depth import read_chart, read_comparison, read_lost
from ringwright.yields.depth_asked import AskedChart, AskedGroups
from ringwright.yields.depth_json import chart_json, comparison_json, losses_json

router = APIRouter(prefix="/api/yield", tags=["yield"])
OfApi = Annotated[Asked, Depends(asked_of)]


@contextmanager
def _snapshot(caller: Bearer, asked: Asked) -> Iterator[Read]:
    """The caller's own site, to the minute as on the pages."""
    with caller.ledger.read(caller.site, as_of_instant(asked.as_of)) as read:
        yield to_the_minute(read)


@router.get(
    "/chart",
    name="yields.chart_api",
    summary="A control chart of one product",
    response_model=forms.ChartOut,
    responses=answer(forms.CHART) | problems(401, 404, 422),
)
def chart(caller: Bearer, asked: OfApi, told: AskedChart) -> Any:
    """Points, limits, signals and false signals to expect, as on the page Yield, Chart."""
    with _snapshot(caller, asked) as read:
        return chart_json(read_chart(read, asked.question, told))


@router.get(
    "/compare",
    name="yields.compare_api",
    summary="Two groups of one product compared",
    response_model=forms.ComparisonOut,
    responses=answer(forms.COMPARISON) | problems(401, 404, 422),
)
def compare(caller: Bearer, asked: OfApi, two: AskedGroups) -> Any:
    """The difference with its interval and chances, as on the page Yield, Compare."""
    with _snapshot(caller, asked) as read:
        return comparison_json(*read_comparison(read, asked.question, two))


@router.get(
    "/losses",
    name="yields.losses_api",
    summary="What scrap of one product took",
    response_model=forms.LossesOut,
    responses=answer(forms.LOSSES) | problems(401, 404, 422),
)
def losses(caller: Bearer, asked: OfApi) -> Any:
    """Hours and material of the scrapped parts, as on the page Yield, Losses."""
    with _snapshot(caller, asked) as read:
        return losses_json(*read_lost(read, asked.question))

"""The forecast: its panel on Week, its page and files, and how past forecasts did."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from ringwright.flow.backtest_board import BackTestBoard, make_back_test_board
from ringwright.flow.forecast_board import ForecastBoard, make_forecast_board
from ringwright.flow.forecasts import ForecastSheet, read_back_test, read_forecasts
from ringwright.flow.moment import past_us, to_the_minute
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
FORECASTS: Final = Remembered[ForecastSheet]()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the address says."""

    product: str | None
    as_of: str | None
    site: str | None


def _asked(
    product: str | None = None, as_of: str | None = None, site: str | None = None
) -> Asked:
    return Asked(product=product or None, as_of=as_of or None, site=site or None)


Question = Annotated[Asked, Depends(_asked)]


@router.get("/week/forecast", name="flow.ahead")
def ahead(request: Request, asked: Question) -> Response:
    """What will this week and the next give? Asked by Week's panel, only the panel answers."""
    shown: dict[str, Any] = {"board": _board(request, asked), "asked": asked}
    if wants_fragment(request):
        return fragment(request, "week/_forecast.html", **shown)
    return page(request, "week/forecast.html", **shown)


@router.get("/week/forecast/file.{form}", name="flow.ahead_file")
def ahead_file(
    request: Request, asked: Question, form: str, sheet: str | None = None
) -> Response:
    """The forecast's figures as a file to keep."""
    return file_answer(request, _board(request, asked).book, form, sheet)


@router.get("/week/backtest", name="flow.backtest")
def backtest(request: Request, asked: Question) -> Response:
    """How did the forecast do in the past weeks?"""
    return page(request, "week/backtest.html", board=_past(request, asked), asked=asked)


@router.get("/week/backtest/file.{form}", name="flow.backtest_file")
def backtest_file(
    request: Request, asked: Question, form: str, sheet: str | None = None
) -> Response:
    """What was forecast against what came, as a file to keep."""
    return file_answer(request, _past(request, asked).book, form, sheet)


def _past(request: Request, asked: Asked) -> BackTestBoard:
    ledger: Ledger = request.app.state.ledger
    at_us = past_us(ledger, asked.site, asked.as_of)
    with ledger.read(asked.site, at_us) as snapshot:
        found = read_back_test(to_the_minute(snapshot), asked.product)
    return make_back_test_board(found, words_for(request), figures_for(request))


def _board(request: Request, asked: Asked) -> ForecastBoard:
    ledger: Ledger = request.app.state.ledger
    at_us = past_us(ledger, asked.site, asked.as_of)
    with ledger.read(asked.site, at_us) as snapshot:
        read = to_the_minute(snapshot)
        found = FORECASTS.answer(
            read, ("forecast", asked.product), partial(read_forecasts, read, asked.product)
        )
    link = partial(_part, request)
    return make_forecast_board(found, words_for(request), figures_for(request), link)


def _part(request: Request, serial: str) -> str:
    return path_for(request, "trace.part", serial=serial)

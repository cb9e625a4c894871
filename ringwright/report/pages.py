"""The page of the weekly report: choose a week, see what is on it, take it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from ringwright.core.calendar import week_before, week_of
from ringwright.core.errors import Missing
from ringwright.flow.moment import past_us
from ringwright.kit.render import figures_for, page, words_for
from ringwright.ledger.service import Ledger, Read
from ringwright.report.files import MEDIA, check_form, file_of, name_of
from ringwright.report.model import PARQUET, Found, Report
from ringwright.report.service import make_report, read_report
from ringwright.routecards.queries import read_revisions

router = APIRouter(include_in_schema=False)
NOTHING: Final = "No product has a route card yet."


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the address says: which week of which product, as known when."""

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


@router.get("/week/report", name="report.page")
def report_page(request: Request, asked: Question) -> Response:
    """What goes into a week's report, and its files."""
    products, found = _read(request, asked, with_visits=False)
    made = _worded(request, found) if found else None
    return page(request, "report/report.html", asked=asked, products=products, report=made)


@router.get("/week/report/file.{form}", name="report.file")
def report_file(request: Request, asked: Question, form: str) -> Response:
    """The report of a week in one form."""
    check_form(form)
    _, found = _read(request, asked, with_visits=form == PARQUET)
    if found is None:
        raise Missing(NOTHING)
    made = _worded(request, found)
    headers = {
        "Content-Disposition": f'attachment; filename="{name_of(made, form)}"',
        "Content-Language": made.words.tag,
        "Vary": "Accept-Language",
        "Cache-Control": "no-store",
    }
    return Response(file_of(made, form), media_type=MEDIA[form], headers=headers)


def _worded(request: Request, found: Found) -> Report:
    return make_report(found, words_for(request), figures_for(request))


def _read(
    request: Request, asked: Asked, *, with_visits: bool
) -> tuple[tuple[str, ...], Found | None]:
    """The site's products, and the report of one of them: the first where none is named."""
    ledger: Ledger = request.app.state.ledger
    at_us = past_us(ledger, asked.site, asked.as_of)
    with ledger.read(asked.site, at_us) as read:
        revisions = read_revisions(read.connection, read.site.id)
        products = tuple(dict.fromkeys(revision.product for revision in revisions))
        product = asked.product or (products[0] if products else None)
        if product is None:
            return products, None
        week = asked.week or _newest_over(read)
        return products, read_report(read, week, product, with_visits=with_visits)


def _newest_over(read: Read) -> str:
    """The week that was over last: a report is asked for on the Monday after."""
    return week_before(week_of(read.now_us, read.site.zone, read.site.week_starts))

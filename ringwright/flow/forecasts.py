"""What the forecast pages show: this week and the next, and how past forecasts did."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from typing import Final

from ringwright.core.calendar import week_before, week_of
from ringwright.flow.forecast import (
    Forecast,
    planned,
    read_record,
    read_weeks,
    read_worked,
)
from ringwright.flow.queries import Window
from ringwright.flow.service import card_of, revisions_of, week_bounds
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Read
from ringwright.outlook.answer import Question
from ringwright.outlook.backtest import Tried, back_test
from ringwright.outlook.scores import Score, score_of
from ringwright.outlook.worked import days_on
from ringwright.routecards.queries import read_revisions

BACK_WEEKS: Final = 4
"""Past weeks that are forecast again, day by day."""
TRIED: Final = Remembered[tuple[Tried, ...]]()
_BEFORE: Final = 5
"""Weeks of history from which on a past week is forecast again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastSheet:
    """Each product's present week and next one."""

    drawn: Snapshot
    pairs: tuple[tuple[Forecast, Forecast], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BackTest:
    """One product's past weeks forecast again."""

    drawn: Snapshot
    product: str
    name: str
    products: tuple[str, ...]
    """All of the site, to choose from."""
    target: float | None
    tried: tuple[Tried, ...]

    @property
    def score(self) -> Score:
        """Over every forecast of it."""
        return score_of([one.judged for one in self.tried])


def products_of(read: Read) -> tuple[str, ...]:
    """Products of the site in the order their first route cards came."""
    revisions = read_revisions(read.connection, read.site.id)
    return tuple(dict.fromkeys(revision.product for revision in revisions))


def read_forecasts(read: Read, product: str | None) -> ForecastSheet:
    """This week and the next of one product, or of all. Raises Missing."""
    week = week_of(read.now_us, read.site.zone, read.site.week_starts)
    weeks = (week, week_before(week, -1))
    products: Iterable[str] = (product,) if product else products_of(read)
    pairs = []
    for one in products:
        this, following = read_weeks(read, one, weeks)
        pairs.append((this, following))
    return ForecastSheet(drawn=_drawn(read), pairs=tuple(pairs))


def read_back_test(read: Read, product: str | None) -> BackTest:
    """The last weeks that are over, forecast from the beginning of each of their days.

    Entries are those believed now; each forecast sees those that happened before its moment.
    Raises Missing.
    """
    products = products_of(read)
    chosen = product or (products[0] if products else None)
    if chosen is None:
        return BackTest(
            drawn=_drawn(read), product="", name="", products=(), target=None, tried=()
        )
    site, revisions = read.site, revisions_of(read, chosen)
    week = week_of(read.now_us, site.zone, site.week_starts)
    start_us, end_us = week_bounds(read, week)
    card = card_of(revisions, read, Window(products=(), start_us=start_us, end_us=end_us))
    record = read_record(read, chosen, planned(revisions, card), start_us)
    worked = read_worked(read, record, start_us, end_us)
    asked = [
        one for back in range(BACK_WEEKS, 0, -1)
        for one in _days(read, week_before(week, back))
        if one.start_us >= days_on(record.first_us, 7 * _BEFORE, site.zone)
    ] if record.serials else []  # fmt: skip
    hours = (worked.edges_us.tobytes(), worked.gone_h.tobytes())
    # It costs seconds, and follows from what lay before this week alone: bookings leave it be.
    return BackTest(
        drawn=_drawn(read),
        product=chosen,
        name=card.name,
        products=products,
        target=card.target_per_week,
        tried=TRIED.kept(
            (record.content, hours, tuple(asked), card.target_per_week),
            partial(back_test, record, worked, asked, card.target_per_week),
        ),
    )


def _days(read: Read, week: str) -> list[Question]:
    """A week asked at the beginning of each of its days."""
    start_us, end_us = week_bounds(read, week)
    zone = read.site.zone
    return [
        Question(
            start_us=start_us, end_us=end_us, at_us=days_on(start_us, day, zone), zone=zone
        )
        for day in range(7)
    ]


def _drawn(read: Read) -> Snapshot:
    return Snapshot(
        site=read.site.code,
        site_name=read.site.name,
        zone=read.site.zone,
        now_us=read.now_us,
        head_seq=read.head_seq,
        head_hash=read.head_hash,
        as_of=read.as_of_us is not None,
    )

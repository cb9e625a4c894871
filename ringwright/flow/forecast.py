"""The forecast of a week's output, read from one snapshot: what page, command and API show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ringwright.core.calendar import HOUR_US, iso_text, working_intervals
from ringwright.flow import forecast_queries as queries
from ringwright.flow.queries import Window
from ringwright.flow.service import card_of, moment_of, revisions_of, week_bounds
from ringwright.ledger.service import Read
from ringwright.outlook.answer import Deciding, Outlook, Question, outlook
from ringwright.outlook.counts import chance_of, high_end, low_end, middle, twentieths
from ringwright.outlook.record import Planned, Record, record_of
from ringwright.outlook.worked import Worked, learned_intervals, worked_of
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import Revision
from ringwright.sites.queries import read_calendars

_WEEK_US: Final = 7 * 24 * HOUR_US
LOOK_BACK_US: Final = 29 * _WEEK_US
"""A quarter of past weeks, a quarter to learn from before the first, and the weeks between."""
ENOUGH_WEEKS: Final = 3
"""Past weeks from which a forecast says something; before that a page says it cannot."""


@dataclass(frozen=True, kw_only=True)
class Forecast:
    """The whole week's output: what is out, and the distribution of what it may come to."""

    product: str
    name: str
    week: str
    zone: str
    at_us: int
    released_so_far: int
    mean: float
    median: int
    low_80: int
    high_80: int
    target: float | None
    probability_of_target: float | None
    twentieths: tuple[int, ...]
    """Twenty whole-week outputs, each 1 chance in 20, ascending."""
    over: bool
    """True when the week had ended at that moment."""
    in_work: int
    """Parts in the cell at that moment."""
    starts: float
    """How much of the mean comes from parts not created yet."""
    deciding: tuple[Deciding, ...]
    """Parts in the cell, those first whose week hangs in the balance."""
    past_weeks: int
    """How many past weeks its spread was learned from."""

    @property
    def can_say(self) -> bool:
        """False while the record is too short to learn from."""
        return self.over or self.past_weeks >= ENOUGH_WEEKS


def read_forecast(read: Read, product: str, week: str, seed: int = 1) -> Forecast:
    """The forecast of one product and week, as of the snapshot's moment.

    Raises Missing or Refused.
    """
    return read_weeks(read, product, (week,), seed)[0]


def read_weeks(
    read: Read, product: str, weeks: Sequence[str], seed: int = 1
) -> tuple[Forecast, ...]:
    """The forecasts of several weeks of a product, from one reading of its history."""
    windows = [week_bounds(read, week) for week in weeks]
    revisions, at_us = revisions_of(read, product), moment_of(read)
    cards = [_card(read, revisions, *window) for window in windows]
    record = read_record(read, product, planned(revisions, cards[0]), at_us)
    worked = read_worked(read, record, at_us, max(at_us, *(end for _, end in windows)))
    return tuple(
        _forecast(outlook(record, worked, _question(read, window, seed)), card, week, read)
        for week, window, card in zip(weeks, windows, cards, strict=True)
    )


def _card(read: Read, revisions: list[Revision], start_us: int, end_us: int) -> RouteCard:
    window = Window(products=(), start_us=start_us, end_us=end_us)
    return card_of(revisions, read, window)


def _question(read: Read, window: tuple[int, int], seed: int) -> Question:
    start_us, end_us = window
    at_us, zone = moment_of(read), read.site.zone
    return Question(start_us=start_us, end_us=end_us, at_us=at_us, zone=zone, seed=seed)


def _forecast(found: Outlook, card: RouteCard, week: str, read: Read) -> Forecast:
    out, mass, target = found.released, found.mass, card.target_per_week
    chance = None if target is None else chance_of(mass, target - out)
    return Forecast(
        product=card.product,
        name=card.name,
        week=week,
        zone=read.site.zone,
        at_us=read.now_us,
        released_so_far=out,
        mean=out + float(mass @ np.arange(len(mass))),
        median=out + middle(mass),
        low_80=out + low_end(mass),
        high_80=out + high_end(mass),
        target=target,
        probability_of_target=chance,
        twentieths=tuple(out + more for more in twentieths(mass)),
        over=found.over,
        in_work=len(found.deciding),
        starts=found.starts,
        deciding=found.deciding,
        past_weeks=len(found.asked),
    )


def planned(revisions: list[Revision], card: RouteCard) -> tuple[Planned, ...]:
    """The steps of the card in force, then those only other revisions have, in route order."""
    steps = {step.number: step for step in card.steps}
    for revision in revisions:
        for step in revision.card.steps:
            steps.setdefault(step.number, step)
    return tuple(
        Planned(
            number=step.number,
            name=step.name,
            work_h=step.planned_hours,
            queue_h=step.queue_hours,
        )
        for step in (*card.steps, *(s for n, s in steps.items() if n not in card.index))
    )


def read_record(read: Read, product: str, plan: tuple[Planned, ...], at_us: int) -> Record:
    """What happened to the parts of a product before a moment, half a year back."""
    run, since_us = read.connection.execute, at_us - LOOK_BACK_US
    asked = (read, product, since_us, at_us)
    # Sorted here: the two stores do not agree on the order of letters.
    visits: list[Any] = sorted(
        run(queries.visits_before(*asked)), key=lambda row: (row.serial, row.number)
    )
    released = {row.serial: row.released_us for row in run(queries.releases_before(*asked))}
    holds: list[Any] = list(run(queries.holds_before(*asked)))
    return record_of(plan, visits, released, holds)


def read_worked(read: Read, record: Record, at_us: int, end_us: int) -> Worked:
    """Working hours by the site's first calendar; without one as learned from the begins."""
    site = read.site
    first_us = min(record.first_us, at_us) - 9 * _WEEK_US
    calendars = read_calendars(read.connection, site.id, None, read.known_before_us)
    if calendars:
        return worked_of(working_intervals(calendars, first_us, end_us, site.zone))
    rows = read.connection.execute(
        queries.begins_by_half_hour(read, at_us - LOOK_BACK_US, at_us)
    )
    begins = {int(row.slot_us): int(row.begun) for row in rows}
    return worked_of(learned_intervals(begins, first_us, end_us, site.zone))


def forecast_json(found: Forecast) -> dict[str, Any]:
    """The forecast with the names and units of `forecast --json` and the API."""
    return {
        "product": found.product,
        "week": found.week,
        "as_of": iso_text(found.at_us, found.zone),
        "released_so_far": found.released_so_far,
        "mean": found.mean,
        "median": found.median,
        "low_80": found.low_80,
        "high_80": found.high_80,
        "target": found.target,
        "probability_of_target": found.probability_of_target,
    }


def forecast_text(found: Forecast) -> str:
    """The forecast in one line, for a terminal."""
    said = (
        f"{found.product} {found.week}: {found.released_so_far} released so far, "
        f"{found.low_80} to {found.high_80} in all (80 %), median {found.median}"
    )
    if found.target is None or found.probability_of_target is None:
        return f"{said}; no target."
    return f"{said}; {in_100(found.probability_of_target)} for {found.target:g} or more."


def in_100(chance: float) -> str:
    """A chance in words: "4 in 100", "under 1 in 100", "over 99 in 100"."""
    if 0 < chance < 0.01:
        return "under 1 in 100"
    if 0.99 < chance < 1:
        return "over 99 in 100"
    return f"{round(chance * 100)} in 100"

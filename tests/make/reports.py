"""Reports from hand-made weeks, without a store."""

from __future__ import annotations

from typing import Any

from ringwright.flow.model import Strip
from ringwright.flow.published import Publication
from ringwright.flow.service import week_json
from ringwright.kit.numbers import Figures
from ringwright.kit.words import words_of
from ringwright.report.model import Found, Report, VisitLine
from ringwright.report.service import make_report
from tests.make import week


def visit(serial: str = "HB-4127", **given: Any) -> VisitLine:
    """One visit of an hour at the first step, passed."""
    usual: dict[str, Any] = {
        "serial": serial, "product": "HF22-BLADE", "revision": "A", "step": 10, "first": True,
        "ready_us": week.START_US, "begin_us": week.START_US,
        "end_us": week.at("2026-09-29T08:00"),
        "outcome": "pass", "defect": None, "card": None, "pause_us": 0,
        "touch_us": week.HOUR_US, "queue_us": 0, "station": "CLEAN-1", "lot": None,
        "part_lot": None, "run": "",
    }  # fmt: skip
    return VisitLine(**{**usual, **given})


def report(
    strip: Strip | None = None, *, practice: str = "", tag: str = "en", **given: Any
) -> Report:
    """The report of one strip; more of the sheet where given."""
    own = strip or week.strip()
    found = Found(
        sheet=week.sheet(own, **given),
        publication=Publication(editions=(), changes=None, numbers_now=week_json(own.numbers)),
        visits=(visit(),),
        practice=practice,
    )
    return make_report(found, words_of(tag), Figures(tag))


def route(steps: int) -> Strip:
    """A strip of so many steps, each with its visits and what stands there."""
    places = range(10, 10 * steps + 1, 10)
    return week.strip(
        steps=tuple(week.step(place, f"Step no {place}", 40, 38) for place in places),
        standing=tuple(week.standing(place, f"Step no {place}", waiting=2) for place in places),
    )

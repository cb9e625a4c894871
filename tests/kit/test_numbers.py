"""Figures as the look asks for them: rounded once, true minus, thin gap, site time."""

from __future__ import annotations

import random

import pytest
from babel.numbers import format_decimal

from ringwright.core.instants import parse_instant
from ringwright.kit.numbers import Figures

EN, DE = Figures("en"), Figures("de")
OSLO = "Europe/Oslo"


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        (1234.55, 1, "1,234.5"),
        (-5.04, 1, "\u22125.0"),
        (-0.04, 1, "0.0"),
        (33, 0, "33"),
        (None, 1, "\u2013"),
        (1_234_567, 0, "1,234,567"),
    ],
)
def test_a_figure_is_written_in_english(value: float | None, places: int, text: str) -> None:
    assert EN.decimal(value, places) == text


def test_a_figure_is_written_in_german() -> None:
    assert DE.decimal(1234.56, 1) == "1.234,6"
    assert DE.percent(0.936) == "93,6\u202f%"


@pytest.mark.parametrize("tag", ["en", "de", "nb", "fr", "es", "pl"])
def test_figures_are_written_as_babel_writes_them(tag: str) -> None:
    """Against babel, which knows the CLDR's number patterns of each language."""
    dice, figures = random.Random(8), Figures(tag)
    shapes = ("#,##0", "#,##0.0", "#,##0.00", "#,##0.000")
    for _ in range(500):
        value = dice.uniform(-1, 1) * 10 ** dice.randrange(9)
        for places, shape in enumerate(shapes):
            wanted = format_decimal(round(value, places) + 0.0, shape, locale=tag)
            assert figures.decimal(value, places) == wanted.replace("-", "\u2212")


def test_a_plan_of_parts_of_parts_keeps_its_decimal() -> None:
    assert (EN.count(66.0), EN.count(2.5)) == ("66", "2.5")


def test_only_a_sign_that_is_the_message_is_shown() -> None:
    assert [EN.signed(v) for v in (3, 0, -3)] == ["+3", "0", "\u22123"]


def test_a_proportion_and_its_unit_stand_a_thin_gap_apart() -> None:
    assert EN.percent(0.9364) == "93.6\u202f%"
    assert (EN.percent(None), EN.bare_percent(1.0)) == ("\u2013", "100.0")


def test_a_time_of_today_goes_without_its_day() -> None:
    now, before = (parse_instant(t, OSLO) for t in ("2026-10-01T03:10:12", "2026-09-30T22:00"))

    assert EN.moment(now, OSLO, now) == "03:10"
    assert EN.moment(before, OSLO, now) == "Wed 30 Sep 22:00"
    assert EN.full(now, OSLO) == "Thu 1 Oct 2026 03:10:12"
    assert DE.day(now, OSLO).startswith("Do")


def test_the_hour_that_comes_twice_shows_its_offset() -> None:
    first = parse_instant("2026-10-25T02:30+02:00")
    second = parse_instant("2026-10-25T02:30+01:00")
    later = parse_instant("2026-10-25T03:30+01:00")

    shown = [EN.clock(us, OSLO) for us in (first, second, later)]

    assert shown == ["02:30\u202f+02:00", "02:30\u202f+01:00", "03:30"]

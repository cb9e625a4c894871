"""The answer in one sentence."""

from __future__ import annotations

import pytest

from ringwright.flow.answer import (
    LONGEST,
    Piece,
    State,
    answer,
    position,
)
from ringwright.flow.model import WeekSheet
from ringwright.kit.numbers import Figures
from ringwright.kit.words import words_of
from tests.make import week as make
from tests.make.week import strip

WORDS, SHOW = words_of("en"), Figures("en")


def said(sheet: WeekSheet) -> str:
    """The answer as one text."""
    return "".join(piece.text for piece in answer(sheet, WORDS, SHOW))


def test_the_worst_product_comes_first_and_only_what_is_owed_is_underlined() -> None:
    sheet = make.sheet(
        strip("Cases", target=3.0, output=1, promised_now=1.7),
        strip("Turbine blades", target=204.0, output=121, promised_now=117.6),
        strip("Fan blades", output=33, promised_now=38.0),
    )

    assert said(sheet) == "5.0 owed on Fan blades; Cases on pace; 3.4 ahead on Turbine blades."
    marked = [piece for piece in answer(sheet, WORDS, SHOW) if piece.needs]
    assert marked == [Piece("5.0 owed", True)]


@pytest.mark.parametrize(
    ("promised", "output", "state"),
    [
        (38.0, 33, State.OWED),
        (33.96, 33, State.OWED),
        (33.94, 33, State.EVEN),
        (33.0, 33, State.EVEN),
        (32.0, 33, State.AHEAD),
        (0.9, 0, State.UNKNOWN),
        (0.9, 1, State.EVEN),
        (None, 33, State.UNKNOWN),
    ],
)
def test_a_position_is_judged_as_it_is_shown(
    promised: float | None, output: int, state: State
) -> None:
    one = strip(output=output, promised_now=promised)

    assert position(one, make.NOW_US).state is state


def test_nothing_is_said_about_pace_before_a_part_is_due() -> None:
    assert said(make.sheet(strip(output=0, promised_now=0.4))) == (
        "Cannot say yet for Fan blades."
    )


def test_a_product_without_a_target_is_counted_only() -> None:
    assert said(make.sheet(strip(target=None))) == "Fan blades: 33 released, no promise."


def test_a_week_that_is_over_was_kept_or_was_not() -> None:
    kept = make.sheet(strip(output=66), now_us=make.END_US)
    short = make.sheet(strip(output=61), now_us=make.END_US)

    assert said(kept) == "Promise kept on Fan blades; 66 of 66 out."
    assert said(short) == "5 short on Fan blades; 61 of 66 out."


def test_clauses_are_left_out_from_the_right_until_it_fits() -> None:
    strips = [strip(f"Product number {n}", promised_now=33.0 + n) for n in range(9)]
    text = said(make.sheet(*strips))

    assert len(text) <= LONGEST
    assert text.startswith("8.0 owed on Product number 8; 7.0 owed on")


def test_one_clause_always_stays_however_long_a_name_is() -> None:
    assert "x" * 120 in said(make.sheet(strip("x" * 120)))


def test_a_shop_without_a_route_card_is_told_so() -> None:
    assert said(make.sheet()) == "No product has a route card yet."

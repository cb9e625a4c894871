"""The Week page's figures before they reach a template."""

from __future__ import annotations

import pytest

from ringwright.flow.acts import HELD, Act
from ringwright.flow.board import Board, make_board, ptag_of
from ringwright.flow.model import Strip
from ringwright.kit.numbers import Figures
from ringwright.kit.words import words_of
from tests.make import week as make


def board(*strips: Strip) -> Board:
    """The page of those strips."""
    return make_board(make.sheet(*strips), words_of("en"), Figures("en"))


def test_the_account_balances_or_says_by_how_much_it_does_not() -> None:
    right, wrong = (
        board(make.strip(account=make.account(opening=o))).strips[0] for o in (13, 12)
    )

    assert (right.account.off_by, wrong.account.off_by) == (0, -1)


def test_a_rework_ratio_gets_its_interval_from_its_visits() -> None:
    row = board(make.strip(steps=(make.step(10, "Clean", 40, 38),))).strips[0].rows[0]

    assert (row.rework.value, row.rework.n) == (0.05, 40)
    assert row.rework.low is not None
    assert row.rework.high is not None
    # Wilson 95 % of 2 in 40 by his formula (1927), worked by hand: 0.0138 to 0.1650.
    assert (round(row.rework.low, 4), round(row.rework.high, 4)) == (0.0138, 0.1650)


def test_fewer_than_twenty_is_a_small_n() -> None:
    steps = (make.step(10, "Clean", 19, 18), make.step(20, "Bond", 20, 18))

    assert [row.small for row in board(make.strip(steps=steps)).strips[0].rows] == [True, False]


def test_a_step_that_parts_still_stand_at_is_shown_though_the_route_dropped_it() -> None:
    strip = make.strip(steps=(make.step(10),), standing=(make.standing(15, "Old", waiting=2),))

    assert [row.number for row in board(strip).strips[0].rows] == [10, 15]


def test_strips_share_one_screen_and_an_owing_product_gets_twice_the_room() -> None:
    heights = [
        item.drawing.height
        for item in board(
            make.strip(promised_now=38.0),
            make.strip(promised_now=33.0),
            make.strip(promised_now=33.0),
        ).strips
    ]

    assert sum(heights) <= 420
    assert heights[0] > 1.6 * heights[1] == pytest.approx(1.6 * heights[2])


def test_balloons_stay_on_the_picture_and_carry_the_lists_numbers() -> None:
    acts = tuple(
        Act(kind=HELD, product="HF22-BLADE", step=n, parts=1.0, worst=make.part(), rank=n)
        for n in range(1, 6)
    )
    sheet = make.sheet(make.strip(), acts=acts)
    item = make_board(sheet, words_of("en"), Figures("en")).strips[0]

    assert [mark.rank for mark in item.balloons] == [1, 2, 3, 4, 5]
    for mark in item.balloons:
        assert 10 <= item.drawing.now_y + mark.y <= item.drawing.height - 10


def test_the_mark_of_a_panel_moves_with_entries_and_minutes() -> None:
    assert ptag_of(7, 59_999_999) == ptag_of(7, 0)
    assert len({ptag_of(7, 0), ptag_of(8, 0), ptag_of(7, 60_000_000)}) == 3

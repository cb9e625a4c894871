"""Geometry worked out by hand."""

from __future__ import annotations

import pytest

from ringwright.kit.charts import (
    LOWER_POST,
    UPPER_POST,
    RulerFigures,
    Scale,
    draw_interval,
    draw_ruler,
    interval_floor,
    whole_ticks,
)


def test_a_scale_is_a_straight_line() -> None:
    scale = Scale(-5, 5, 100, 0)

    assert [scale(v) for v in (-5, 0, 2.5, 5)] == [100, 50, 25, 0]


@pytest.mark.parametrize(
    ("low", "high", "most", "ticks"),
    [
        (-0.5, 1.3, 4, (0, 1)),
        (-15.2, 5.4, 6, (-15, -10, -5, 0, 5)),
        (-23, 2, 4, (-20, -10, 0)),
        (0, 33, 5, (0, 10, 20, 30)),
        (-900, 80, 3, (-500, 0)),
    ],
)
def test_ticks_are_round_and_few(
    low: float, high: float, most: int, ticks: tuple[int, ...]
) -> None:
    assert whole_ticks(low, high, most) == ticks


def test_an_interval_bar_begins_at_its_floor() -> None:
    bar = draw_interval(0.9, 0.8, 1.0, 0.6)

    assert bar is not None
    assert (bar.dot, bar.low, bar.high) == (75.0, 50.0, 100.0)
    assert draw_interval(None, None, None, 0.6) is None


def test_the_floor_is_the_whole_tenth_below_the_lowest_post() -> None:
    assert interval_floor([0.83, None, 0.61]) == 0.6
    assert interval_floor([None]) == 0.0


def test_all_rulers_share_the_place_of_their_posts() -> None:
    chord = draw_ruler(RulerFigures(lower=317.4, upper=318.6, nominal=318.0, guard=0.08))
    pad = draw_ruler(RulerFigures(lower=85.97, upper=86.03, value=86.0))

    assert [post.x for post in chord.posts] == [post.x for post in pad.posts]
    assert chord.nominal == pad.pointer == 50.0
    # The guard band is 0.08 of 1.2 mm: a fifteenth of the span at each end.
    width = round((UPPER_POST - LOWER_POST) * 0.08 / 1.2, 2)
    assert [band.width for band in chord.guards] == [width, width]


def test_a_reading_past_its_post_is_outside_and_stays_on_the_paper() -> None:
    far = draw_ruler(RulerFigures(lower=1.0, upper=2.0, value=50.0))
    at_limit = draw_ruler(RulerFigures(lower=1.0, upper=2.0, value=2.0))

    assert (far.outside, far.pointer) == (True, 98.0)
    assert (at_limit.outside, at_limit.pointer) == (False, UPPER_POST)


def test_a_ruler_may_have_one_post_or_none() -> None:
    assert len(draw_ruler(RulerFigures(lower=1.0, upper=None, value=3.0)).posts) == 1
    assert draw_ruler(RulerFigures(lower=None, upper=None)).posts == ()

"""The promise line against corners worked out by hand."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.core.instants import HOUR_US, parse_instant
from ringwright.kit.promise import PromiseDrawing, PromiseFigures, draw_promise
from tests.make import week as make

OSLO = "Europe/Oslo"
MONDAY = parse_instant("2026-09-28T00:00", OSLO)


def draw(**given_: Any) -> PromiseDrawing:
    """A week of 168 h, all worked, with a target of 168: one part an hour."""
    usual: dict[str, Any] = {
        "releases_us": (), "working": ((MONDAY, MONDAY + 168 * HOUR_US),), "start_us": MONDAY,
        "end_us": MONDAY + 168 * HOUR_US, "now_us": MONDAY + 84 * HOUR_US, "target": 84.0,
        "zone": OSLO, "output": len(given_.get("releases_us", ())),
    }  # fmt: skip
    return draw_promise(PromiseFigures(**{**usual, **given_}), 200)


def corners(drawing: PromiseDrawing) -> list[tuple[float, float]]:
    """The ink's corners as drawn."""
    pairs = (pair.split(",") for pair in drawing.ink.split())
    return [(float(x), float(y)) for x, y in pairs]


def test_the_ink_falls_at_the_pace_and_rises_with_each_release() -> None:
    drawing = draw(releases_us=(MONDAY + 42 * HOUR_US,))
    points = corners(drawing)

    # A quarter of the week gone: 21 promised; the release lifts the ink by one part.
    assert [x for x, _ in points] == [0.0, 250.0, 250.0, 500.0]
    assert points[0][1] == pytest.approx(drawing.zero_y, abs=0.06)
    one_part = points[1][1] - points[2][1]
    assert points[1][1] - drawing.zero_y == pytest.approx(21 * one_part, rel=0.05)
    assert drawing.deviation == pytest.approx(1 - 42)
    assert drawing.now_y > drawing.zero_y


def test_hours_not_worked_take_no_room() -> None:
    one_shift = tuple(
        (MONDAY + (24 * d + 6) * HOUR_US, MONDAY + (24 * d + 14) * HOUR_US) for d in range(5)
    )
    drawing = draw(working=one_shift, now_us=MONDAY + (24 + 10) * HOUR_US)

    assert drawing.now_x == 30.0
    assert drawing.midnights == (20.0, 40.0, 60.0, 80.0)
    assert [day.x for day in drawing.days] == [10.0, 30.0, 50.0, 70.0, 90.0]
    assert [day.today for day in drawing.days] == [False, True, False, False, False]


@pytest.mark.parametrize(
    ("owed", "proof"), [(0.94, False), (0.96, True), (1.0, True), (-3.0, False)]
)
def test_the_proof_bar_stands_from_one_whole_part_owed_on(owed: float, proof: bool) -> None:
    assert draw(target=2 * owed).proof is (proof and owed > 0)


def test_above_a_hundred_a_week_every_fourth_step_is_drawn() -> None:
    releases = make.evenly(41, MONDAY + 84 * HOUR_US, MONDAY)
    few, many = (
        draw(releases_us=releases, target=100.0),
        draw(releases_us=releases, target=101.0),
    )

    assert (few.every, many.every) == (1, 4)
    # A start, two corners a step, an end: 41 steps; 10 fours and the last one.
    assert (len(corners(few)), len(corners(many))) == (2 + 2 * 41, 2 + 2 * 11)
    assert many.deviation == pytest.approx(41 - 50.5)


def test_without_a_target_the_ink_only_counts() -> None:
    drawing = draw(target=None, releases_us=(MONDAY + HOUR_US, MONDAY + 2 * HOUR_US))

    assert drawing.deviation == 2
    assert not drawing.proof
    assert drawing.table[-1].pace is None


def test_a_week_without_working_time_is_drawn_over_all_its_hours() -> None:
    assert draw(working=()).now_x == 50.0


def test_a_week_with_a_clock_change_keeps_its_days_apart() -> None:
    start = parse_instant("2026-10-19T00:00", OSLO)
    end = parse_instant("2026-10-26T00:00", OSLO)
    drawing = draw(working=((start, end),), start_us=start, end_us=end, now_us=end)

    # 169 h: six midnights after 24 h each, the last day has 25 h.
    assert drawing.midnights == tuple(round(100 * 24 * d / 169, 2) for d in range(1, 7))


def test_the_table_says_what_the_picture_shows() -> None:
    drawing = draw(releases_us=(MONDAY + 42 * HOUR_US,))
    last = drawing.table[-1]

    assert (last.output, last.pace) == (1, 42.0)
    assert last.difference == pytest.approx(drawing.deviation)
    assert [row.output for row in drawing.table] == [0, 1, 1, 1]


@given(
    st.lists(st.integers(0, 168 * HOUR_US - 1), max_size=40),
    st.one_of(st.none(), st.floats(0.5, 500)),
    st.integers(-HOUR_US, 200 * HOUR_US),
)
def test_the_ink_stays_on_its_paper(moments: list[int], target: float | None, now: int) -> None:
    releases = tuple(sorted(MONDAY + m for m in moments if m <= now))
    drawing = draw(releases_us=releases, target=target, now_us=MONDAY + now)
    points = corners(drawing)

    assert all(0 <= x <= 1000 and 0 <= y <= 200 for x, y in points)
    assert [x for x, _ in points] == sorted(x for x, _ in points)
    assert 0 <= drawing.zero_y <= 200
    assert all(0 <= tick.y <= 200 for tick in drawing.ticks)
    assert 0 in [tick.value for tick in drawing.ticks]

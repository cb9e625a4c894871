"""A wall plan: limits after a step are those at finish and the stock left."""

from __future__ import annotations

import pytest

from ringwright.core.errors import Refused
from ringwright.walls.toml import parse_plan, plan_data, plan_from, plan_text
from tests.make.walls import PLAN, make_plan


def test_limits_after_a_step_are_those_at_finish_and_the_stock_left() -> None:
    front = make_plan().zones[0]
    after = [front.limits_after(step) for step in (20, 30, 40, 50, 60)]
    assert [one.lower for one in after] == [6.7, 3.7, 3.7, 2.2, 2.2]
    assert [one.upper for one in after] == [7.3, 4.3, 4.3, 2.8, 2.8]


def test_what_goes_between_two_steps_counts_each_cut_once() -> None:
    front = make_plan().zones[0]
    assert front.stock_between(20, 60) == 4.5
    assert front.stock_between(20, 40) == 3.0
    assert front.stock_between(40, 60) == 1.5


def test_each_place_has_one_zone_and_the_end_of_the_case_the_last() -> None:
    plan = make_plan()
    places = [plan.zone_place(station, 10.0) for station in (0, 149.9, 150, 300)]
    assert places == [0, 0, 1, 1]


def test_a_zone_may_run_through_nought() -> None:
    text = PLAN.replace('name = "front barrel"', 'name = "boss"\nfrom_deg = 350\nto_deg = 10')
    plan = parse_plan(text)
    assert [plan.zone_place(20, angle) for angle in (349.9, 350, 359, 0, 9.9, 10)] == [
        None, 0, 0, 0, 0, None,
    ]  # fmt: skip


def test_a_plan_survives_the_record_and_its_own_file() -> None:
    plan = make_plan()
    assert plan_from(plan_data(plan)) == plan
    assert parse_plan(plan_text(plan)) == plan


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("to_mm = 150", "to_mm = 160"), "overlap"),
        (("to_mm = 150", "to_mm = 400"), "length_mm 300"),
        (("lower_mm = 2.2", "lower_mm = 2.9"), "must rise"),
        (("lower_mm = 2.2", "lower_m = 2.2"), "unknown key"),
        (("stock = { 30 = 3.0, 50 = 1.5 }", "stock = { 30 = -3 }"), "above 0"),
        (("stock = { 30 = 3.0, 50 = 1.5 }", "stock = { x = 3 }"), "is no step"),
        (('face = "inside"', 'face = "left"'), "unknown face"),
        (("step = 50", "step = 55"), "no zone has stock"),
        (("steps = [20, 40, 60]", "steps = []"), "steps must name"),
        (('effective_from = "2026-01-01"', 'effective_from = "soon"'), "must be a date"),
        (('name = "rear barrel"', 'name = "front barrel"'), "stands twice"),
        (("largest_gap_deg = 20", "largest_gap_deg = 200"), "half a turn"),
    ],
)
def test_what_cannot_be_is_refused_by_zone_and_field(
    change: tuple[str, str], says: str
) -> None:
    assert change[0] in PLAN
    with pytest.raises(Refused, match=says):
        parse_plan(PLAN.replace(*change, 1))

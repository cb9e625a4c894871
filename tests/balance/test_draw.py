"""Drawing sets from a stock: as many as it allows, each within the limits and orderable."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from ringwright.balance.draw import Drawn, draw_sets
from ringwright.balance.feasible import orderable
from ringwright.balance.limits import Impossible, Limits
from ringwright.balance.pool import Blade, Pool
from ringwright.core.errors import Refused
from tests.balance.stocks import most_disjoint, pool_of, stock, within, work

SPREADS = [(1.5, 900.0), (1.0, 600.0), (0.8, 500.0)]


def check(pool: Pool, limits: Limits, drawn: Drawn) -> None:
    """Every set has N blades of its own, and an order that keeps the limits."""
    used = [place for set_ in drawn.sets for place in set_]
    assert len(used) == len(set(used))
    for number, set_ in enumerate(drawn.sets):
        assert len(set_) == limits.slots
        mine = limits if number == 0 else replace(limits, locks={})
        assert orderable(pool.take(set_), mine)
    assert len(drawn.sets) <= drawn.bound.max_sets
    assert drawn.bound.proved == (len(drawn.sets) == drawn.bound.max_sets)


@pytest.mark.parametrize(("spread_hz", "spread_g_mm"), SPREADS)
def test_a_stock_of_160_gives_at_least_what_first_fit_finds(
    spread_hz: float, spread_g_mm: float
) -> None:
    limits = Limits(slots=20, frequency_spread_hz=spread_hz, moment_spread_g_mm=spread_g_mm)
    for seed in range(2):
        pool = stock(seed)
        drawn = draw_sets(pool, limits, work(), sets=None)
        check(pool, limits, drawn)
        assert len(drawn.sets) >= first_fit(pool, limits)


def first_fit(pool: Pool, limits: Limits) -> int:
    """Each blade, by frequency, into the first open set that takes it."""
    open_sets: list[list[Blade]] = []
    for blade in sorted(pool.blades, key=lambda b: b.frequency_hz or 0.0):
        for set_ in open_sets:
            if len(set_) < limits.slots and within([*set_, blade], limits):
                set_.append(blade)
                break
        else:
            open_sets.append([blade])
    return sum(len(set_) == limits.slots for set_ in open_sets)


@pytest.mark.parametrize("seed", range(8))
def test_of_few_blades_the_largest_number_is_found(seed: int) -> None:
    rng = np.random.default_rng(seed)
    pool = pool_of(zip(rng.integers(0, 12, 11), rng.integers(0, 12, 11), strict=True))
    limits = Limits(slots=3, frequency_spread_hz=4, moment_spread_g_mm=4)
    most = most_disjoint(pool, limits)
    if most == 0:
        with pytest.raises(Impossible):
            draw_sets(pool, limits, work(), sets=None)
        return
    drawn = draw_sets(pool, limits, work(), sets=None)
    check(pool, limits, drawn)
    assert len(drawn.sets) == most


def test_without_limits_it_is_a_division() -> None:
    drawn = draw_sets(stock(1, blades=70), Limits(slots=22), work(), sets=None)
    assert len(drawn.sets) == 3
    assert drawn.bound.proved


def test_the_same_question_has_the_same_answer() -> None:
    limits = Limits(slots=20, frequency_spread_hz=1.0, moment_spread_g_mm=600)
    pool = stock(3)
    assert draw_sets(pool, limits, work(seed=5), sets=None) == draw_sets(
        pool, limits, work(seed=5), sets=None
    )


RINGS: list[dict[str, Any]] = [
    {"neighbour_g_mm": 300.0},
    {"opposite_g_mm": 100.0},
    {"alternate": True},
    {"neighbour_g_mm": 300.0, "alternate": True},
    {"locks": {1: "B3", 5: "B9"}},
]


@pytest.mark.parametrize("rules", RINGS)
def test_sets_can_be_ordered_under_the_rules_of_the_ring(rules: Mapping[str, Any]) -> None:
    pool = stock(1)
    limits = Limits(slots=20, frequency_spread_hz=1.5, moment_spread_g_mm=900, **rules)
    drawn = draw_sets(pool, limits, work(), sets=None)
    check(pool, limits, drawn)
    assert len(drawn.sets) == 7


def test_equal_frequencies_are_dealt_out_so_that_sets_can_alternate() -> None:
    readings = zip(range(1, 13), [80.0] * 6 + [81.0] * 6, strict=True)
    pool, limits = pool_of(readings), Limits(slots=4, alternate=True)
    drawn = draw_sets(pool, limits, work(), sets=None)
    check(pool, limits, drawn)
    assert len(drawn.sets) == 3


def test_one_frequency_for_all_blades_allows_no_alternation() -> None:
    pool = pool_of(zip(range(1, 9), [80.0] * 8, strict=True))
    with pytest.raises(Refused):
        draw_sets(pool, Limits(slots=4, alternate=True), work(), sets=None)


def test_a_blade_without_frequency_is_left_out_and_named() -> None:
    pool = Pool(blades=(*stock(1, blades=44).blades, Blade(serial="X", moment_g_mm=120_000)))
    limits = Limits(slots=22, frequency_spread_hz=20, excluded=frozenset({"B1"}))
    drawn = draw_sets(pool, limits, work(), sets=None)
    assert set(drawn.left_out) == {("X", "no frequency"), ("B1", "excluded")}
    assert not {pool.places["X"], pool.places["B1"]} & {p for s in drawn.sets for p in s}


def test_a_locked_blade_without_frequency_is_refused() -> None:
    pool = Pool(blades=(*stock(1, blades=44).blades, Blade(serial="X", moment_g_mm=120_000)))
    with pytest.raises(Refused, match="X"):
        draw_sets(pool, Limits(slots=22, alternate=True, locks={1: "X"}), work(), sets=1)


def test_more_sets_than_possible_are_refused_with_how_many_there_are() -> None:
    limits = Limits(slots=20, frequency_spread_hz=1.5, moment_spread_g_mm=900)
    with pytest.raises(Impossible, match="no more than 7"):
        draw_sets(stock(1), limits, work(), sets=9)


def test_an_impossible_spread_is_refused_with_the_smallest_one() -> None:
    pool = pool_of([(0, 1.0), (3, 1.1), (4, 5.0), (9, 1.2)])
    limits = Limits(slots=3, frequency_spread_hz=1.0, moment_spread_g_mm=5)
    with pytest.raises(Impossible) as refused:
        draw_sets(pool, limits, work(), sets=1)
    assert refused.value.smallest == 9
    assert "9 g·mm" in refused.value.message
    wider = replace(limits, moment_spread_g_mm=refused.value.smallest)
    assert len(draw_sets(pool, wider, work(), sets=1).sets) == 1


def _with(limits: Limits, rule: str, value: float) -> Limits:
    changes: dict[str, Any] = {rule: value}
    return replace(limits, **changes)


@pytest.mark.parametrize("rule", ["neighbour_g_mm", "opposite_g_mm"])
def test_an_impossible_ring_rule_is_refused_with_the_smallest_value(rule: str) -> None:
    pool = stock(4, blades=60)
    limits = Limits(slots=20, moment_spread_g_mm=900)
    with pytest.raises(Impossible) as refused:
        draw_sets(pool, _with(limits, rule, 0.1), work(), sets=1)
    smallest = refused.value.smallest
    assert smallest is not None
    kept = _with(limits, rule, smallest)
    check(pool, kept, draw_sets(pool, kept, work(), sets=1))
    with pytest.raises(Refused):
        draw_sets(pool, _with(limits, rule, smallest * 0.999), work(), sets=1)


def test_blades_that_are_easy_to_place_stay() -> None:
    pool = stock(2, blades=100)
    limits = Limits(slots=20, frequency_spread_hz=2.5, moment_spread_g_mm=1200)
    (one,) = draw_sets(pool, limits, work(), sets=1).sets
    away = np.abs(pool.moment_g_mm - np.median(pool.moment_g_mm))
    rest = np.setdiff1d(np.arange(len(pool)), one)
    assert np.median(away[list(one)]) > np.median(away[rest])


def test_a_stopped_drawing_still_answers() -> None:
    limits = Limits(slots=20, frequency_spread_hz=1.0, moment_spread_g_mm=600)
    drawn = draw_sets(stock(6), limits, work(stop_asked=lambda: True), sets=None)
    check(stock(6), limits, drawn)


def test_hundreds_of_blades_are_drawn_a_few_sets_at_a_time() -> None:
    pool = stock(3, blades=300)
    limits = Limits(slots=20, frequency_spread_hz=1.5, moment_spread_g_mm=900)
    drawn = draw_sets(pool, limits, work(), sets=None)
    check(pool, limits, drawn)
    assert len(drawn.sets) == drawn.bound.max_sets == 14


@pytest.mark.parametrize("rules", [{"neighbour_g_mm": 100.0}, {"opposite_g_mm": 10.0}])
def test_narrower_boxes_never_lower_the_bound(rules: Mapping[str, Any]) -> None:
    pool = stock(1)
    limits = Limits(slots=20, frequency_spread_hz=1.5, moment_spread_g_mm=900)
    most = draw_sets(pool, limits, work(), sets=None).bound.max_sets
    ringed = draw_sets(pool, replace(limits, **rules), work(), sets=None)
    check(pool, replace(limits, **rules), ringed)
    pairs_allow = 6 if "opposite_g_mm" in rules else most
    assert ringed.bound.max_sets == min(most, pairs_allow)

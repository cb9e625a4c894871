"""The bound on the number of sets is never below what can be drawn."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.balance.bound import pairs, relax, runs, upper_bound
from ringwright.balance.draw_stock import eligible, limit_boxes, maximal
from ringwright.balance.limits import Limits
from ringwright.balance.pool import Blade, Pool
from tests.balance.stocks import most_disjoint, pool_of, stock


@pytest.mark.parametrize("seed", range(12))
def test_the_bound_is_no_less_than_the_truth(seed: int) -> None:
    rng = np.random.default_rng(seed)
    pool = pool_of(zip(rng.integers(0, 14, 12), rng.integers(0, 14, 12), strict=True))
    limits = Limits(slots=3, frequency_spread_hz=4, moment_spread_g_mm=5)
    assert upper_bound(pool, limits).max_sets >= most_disjoint(pool, limits)


def test_a_limit_met_exactly_counts_though_the_readings_are_decimal() -> None:
    pool = pool_of([(0.0, 88.8), (0.0, 90.3), (0.0, 89.0)])
    limits = Limits(slots=3, frequency_spread_hz=1.5, moment_spread_g_mm=1)
    assert upper_bound(pool, limits).max_sets == 1


def test_the_prices_prove_the_bound() -> None:
    limits = Limits(slots=20, frequency_spread_hz=1.0, moment_spread_g_mm=600)
    boxes = limit_boxes(eligible(stock(1), limits), 20, 1.0, 600)
    found = relax(boxes, 20)
    cheapest = np.sort(np.where(boxes, found.weights, np.inf), axis=1)[:, :20].sum(axis=1)
    assert cheapest.min() >= 1.0 - 1e-9
    assert found.weights.sum() == pytest.approx(found.value)
    assert found.max_sets == 6


def test_a_mask_inside_another_is_not_maximal() -> None:
    masks = np.array([[1, 1, 0], [1, 1, 1], [0, 1, 1], [1, 1, 1]], dtype=np.bool_)
    assert maximal(masks).tolist() == [False, True, False, False]


def test_moments_alone_are_packed_in_runs() -> None:
    pool = Pool(
        blades=tuple(
            Blade(serial=str(at), moment_g_mm=value)
            for at, value in enumerate([0.0, 5.0, 6.0, 7.0, 20.0, 21.0, 22.0])
        )
    )
    limits = Limits(slots=3, moment_spread_g_mm=2)
    assert [sorted(run) for run in runs(eligible(pool, limits), limits)] == [
        [1, 2, 3],
        [4, 5, 6],
    ]


def test_pairs_are_disjoint_and_close() -> None:
    assert pairs(np.array([9.0, 1.0, 2.0, 3.0, 10.5]), 1.5).tolist() == [[1, 2], [0, 4]]


def test_an_opposite_limit_bounds_the_number_by_its_pairs() -> None:
    moments = [0.0, 1.0, 10.0, 20.0, 30.0, 31.0, 40.0, 41.0]
    blades = tuple(Blade(serial=str(m), moment_g_mm=m) for m in moments)
    bound = upper_bound(Pool(blades=blades), Limits(slots=4, opposite_g_mm=1))
    assert bound.max_sets == 1

"""Two groups compared, against scipy, statsmodels and printed examples."""

from __future__ import annotations

import random

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import confint_proportions_2indep

from ringwright.measure.two_groups import by_loads, fisher, holm, newcombe


def test_the_lady_tasting_tea() -> None:
    """Three of four cups right: Fisher, The Design of Experiments (1935); 34 of 70."""
    assert fisher(3, 4, 1, 4) == pytest.approx(34 / 70)
    assert fisher(4, 4, 0, 4) == pytest.approx(2 / 70)


def test_fishers_test_is_scipys_for_any_counts() -> None:
    draw = random.Random(4)
    for _ in range(200):
        n_a, n_b = draw.randint(1, 60), draw.randint(1, 60)
        a, b = draw.randint(0, n_a), draw.randint(0, n_b)
        wanted = stats.fisher_exact(np.array([[a, n_a - a], [b, n_b - b]])).pvalue
        assert fisher(a, n_a, b, n_b) == pytest.approx(wanted, abs=1e-9)


def test_newcombes_printed_intervals() -> None:
    """Newcombe 1998, Stat. Med. 17:873, Table II: 56/70-48/80, 9/10-3/10, 10/10-0/10.

    Printed values from memory.
    """
    printed = {
        (56, 70, 48, 80): (0.0524, 0.3339),
        (9, 10, 3, 10): (0.1705, 0.8090),
        (10, 10, 0, 10): (0.6075, 1.0),
    }
    for counts, (low, high) in printed.items():
        assert newcombe(*counts) == pytest.approx((low, high), abs=5e-5)


def test_the_interval_is_statsmodels() -> None:
    draw = random.Random(5)
    for _ in range(60):
        n_a, n_b = draw.randint(2, 90), draw.randint(2, 90)
        a, b = draw.randint(1, n_a - 1), draw.randint(1, n_b - 1)
        wanted = confint_proportions_2indep(a, n_a, b, n_b, method="newcomb")
        assert newcombe(a, n_a, b, n_b) == pytest.approx(wanted, abs=1e-9)


def test_whole_loads_are_shared_out_as_scipy_does() -> None:
    a, b = [(5, 5), (4, 5), (5, 5)], [(1, 5), (5, 5), (0, 4), (3, 5)]

    def apart(one: np.ndarray, two: np.ndarray) -> float:
        return float(abs(one[:, 0].sum() / one[:, 1].sum() - two[:, 0].sum() / two[:, 1].sum()))

    pooled = np.array([*a, *b], dtype=float)
    wanted = stats.permutation_test(
        (np.arange(3.0), np.arange(3.0, 7.0)),
        lambda one, two: apart(pooled[one.astype(int)], pooled[two.astype(int)]),
        alternative="greater", n_resamples=9_999, vectorized=False,
    ).pvalue  # fmt: skip

    assert by_loads(a, b) == pytest.approx(wanted)
    # As if each part failed on its own the same counts look far less like chance.
    assert fisher(14, 15, 9, 19) < by_loads(a, b)


def test_one_bad_load_of_each_is_no_evidence_though_many_parts_are() -> None:
    good, bad = [(10, 10)] * 4, [(10, 10)] * 3 + [(0, 10)]

    assert fisher(40, 40, 30, 40) < 0.01
    assert by_loads(good, bad) == pytest.approx(1.0)


def test_drawn_orders_come_near_the_exact_ones_and_are_the_same_twice() -> None:
    draw = random.Random(9)
    a = [(draw.randint(3, 5), 5) for _ in range(9)]
    b = [(draw.randint(1, 5), 5) for _ in range(9)]

    first, second = by_loads(a, b), by_loads(a, b)

    assert first == second
    assert first == pytest.approx(_means(a, b), abs=0.03)


def _means(a: list[tuple[int, int]], b: list[tuple[int, int]]) -> float:
    """Loads of one size: the permutation test of the mean of their good parts, by scipy."""
    found = stats.ttest_ind(
        [k for k, _ in a], [k for k, _ in b],
        method=stats.PermutationMethod(n_resamples=9_999, rng=np.random.default_rng(1)),
    )  # fmt: skip
    return float(found.pvalue)


def test_many_at_once_are_adjusted_as_statsmodels_does() -> None:
    chances = [0.01, 0.04, 0.03, 0.005, 0.6, 0.03]

    assert holm(chances) == pytest.approx(list(multipletests(chances, method="holm")[1]))
    assert holm([]) == []

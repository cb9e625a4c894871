"""The Wilson interval against a general library, published values and its own definition."""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from ringwright.core.proportion import Z_95, wilson

# R. G. Newcombe, Two-sided confidence intervals for the single proportion, Statistics in
# Medicine 17 (1998) 857-872, Table I, method 3 (score, without continuity correction). The
# four decimals are the printed ones, from memory; the six were computed once with statsmodels.
NEWCOMBE = [
    (81, 263, (0.2553, 0.3662), (0.255289, 0.366210)),
    (15, 148, (0.0624, 0.1605), (0.062386, 0.160487)),
    (0, 20, (0.0000, 0.1611), (0.000000, 0.161125)),
    (1, 29, (0.0061, 0.1718), (0.006113, 0.171755)),
]

COUNTS = st.integers(1, 100_000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@pytest.mark.parametrize(("k", "n", "printed", "computed"), NEWCOMBE)
def test_published_examples_come_out(
    k: int, n: int, printed: tuple[float, float], computed: tuple[float, float]
) -> None:
    assert wilson(k, n) == pytest.approx(printed, abs=5.1e-5)
    assert wilson(k, n) == pytest.approx(computed, abs=5.1e-7)


@given(COUNTS, st.sampled_from([0.5, 0.8, 0.95, 0.99]))
def test_it_is_the_wilson_interval_of_statsmodels(
    counts: tuple[int, int], level: float
) -> None:
    theirs = proportion_confint(*counts, alpha=1 - level, method="wilson")

    ours = wilson(*counts, z=NormalDist().inv_cdf((1 + level) / 2))

    assert ours == pytest.approx(tuple(map(float, theirs)), rel=1e-9, abs=1e-12)


# NIST/SEMATECH e-Handbook of Statistical Methods 7.2.4.1: the bounds are the roots p of
# |k/n - p| = z sqrt(p (1 - p) / n).
@given(COUNTS)
def test_both_bounds_solve_the_score_equation(counts: tuple[int, int]) -> None:
    k, n = counts
    for bound in wilson(k, n):
        reach = Z_95 * sqrt(bound * (1 - bound) / n)
        assert abs(k / n - bound) == pytest.approx(reach, rel=1e-6, abs=1e-9)


@given(COUNTS)
def test_the_interval_holds_the_proportion_and_stays_within_0_and_1(
    counts: tuple[int, int],
) -> None:
    k, n = counts
    low, high = wilson(k, n)

    assert 0 <= low <= k / n <= high <= 1
    assert wilson(n - k, n) == pytest.approx((1 - high, 1 - low))


@given(st.integers(1, 1_000_000))
def test_none_and_all_have_bounds_exactly_0_and_1(n: int) -> None:
    assert wilson(0, n)[0] == 0
    assert wilson(n, n)[1] == 1


@pytest.mark.parametrize(("k", "n"), [(0, 0), (1, 0), (-1, 5), (6, 5)])
def test_what_is_no_proportion_has_no_interval(k: int, n: int) -> None:
    with pytest.raises(ValueError, match="not a proportion"):
        wilson(k, n)

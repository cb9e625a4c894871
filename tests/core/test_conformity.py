"""Decision rules, against JCGM 106, ISO 14253-1 and scipy."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from ringwright.core.conformity import (
    GUARD,
    INSIDE,
    OUTSIDE,
    Limits,
    at_least_resolution,
    guard_band,
    mean_of,
    probability_of_conformity,
    standard_uncertainty,
    too_coarse,
    verdict,
)

ROOT_FORM = Limits(lower=-0.007, upper=0.007, nominal=0.0)
"""A ground root form held within 7 micrometres (common practice, no source)."""
VANE = Limits(lower=-1.0, upper=1.0, nominal=0.0)
"""A hand-welded vane within 1 mm fore and aft (common practice, no source)."""
figures = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False)


def test_the_worked_example_of_a_one_sided_limit_conforms_with_92_in_100() -> None:
    """JCGM 106:2012, 7.2 (breakdown voltage of a diode; from memory, recomputed): the upper
    limit is -5.40 V, measured -5.47 V with u = 0.05 V, so p = Phi(1.40) = 0.919."""
    limits = Limits(upper=-5.40)

    found = probability_of_conformity(-5.47, limits, 0.05)

    assert found == pytest.approx(0.92, abs=5e-3)
    assert found == pytest.approx(stats.norm.cdf(1.40), abs=1e-9)


@given(value=figures, half=st.floats(0.001, 1e4), share=st.floats(0.001, 5))
def test_two_limits_agree_with_scipy(value: float, half: float, share: float) -> None:
    limits, u = Limits(lower=-half, upper=half), half * share
    normal = stats.norm(value, u)

    expected = normal.cdf(half) - normal.cdf(-half)

    assert probability_of_conformity(value, limits, u) == pytest.approx(expected, abs=1e-9)


def test_what_lies_on_the_edge_of_the_guard_band_conforms_with_95_in_100() -> None:
    """ISO 14253-1:2017: the default limit of the conformance probability is 95 %."""
    u = 0.0005
    edge = 0.007 - float(guard_band(u))

    assert verdict(edge, ROOT_FORM, u, guarded=True) == INSIDE
    assert probability_of_conformity(edge, ROOT_FORM, u) == pytest.approx(0.95, abs=2e-4)


@pytest.mark.parametrize(
    ("value", "limits", "word"),
    [
        (0.007, ROOT_FORM, INSIDE),
        (0.0070001, ROOT_FORM, OUTSIDE),
        (-1.0, VANE, INSIDE),
        (-1.1, VANE, OUTSIDE),
        (12.0, Limits(upper=12.0), INSIDE),
        (-1e9, Limits(upper=12.0), INSIDE),
        (9.99, Limits(lower=10.0), OUTSIDE),
        (1e9, Limits(), INSIDE),
    ],
)
def test_simple_acceptance_takes_the_limits_themselves(
    value: float, limits: Limits, word: str
) -> None:
    assert verdict(value, limits) == word


def test_a_guard_band_lies_inside_each_limit_and_on_one_side_where_there_is_one() -> None:
    u = 0.1
    for value, limits, word in (
        (0.836, VANE, GUARD),
        (0.8355, VANE, INSIDE),
        (-0.9, VANE, GUARD),
        (11.9, Limits(upper=12.0), GUARD),
        (-50.0, Limits(upper=12.0), INSIDE),
        (10.1, Limits(lower=10.0), GUARD),
        (1.01, VANE, OUTSIDE),
    ):
        assert verdict(value, limits, u, guarded=True) == word
        assert verdict(value, limits, u) in (INSIDE, OUTSIDE)


def test_a_mean_that_binary_floats_lift_over_its_limit_lies_on_it() -> None:
    repeats = (0.1, 0.2, 0.3)
    assert sum(repeats) / 3 > 0.2  # what floats would say

    assert mean_of(repeats) == 0.2
    assert verdict(mean_of(repeats), Limits(upper=0.2)) == INSIDE
    assert verdict(0.3 - 0.1645, Limits(upper=0.3), 0.1, guarded=True) == INSIDE


@given(st.lists(figures, min_size=2, max_size=30))
def test_repeats_give_the_uncertainty_of_their_mean(values: list[float]) -> None:
    """GUM (JCGM 100:2008) 4.2.3, against scipy's standard error of the mean."""
    found = standard_uncertainty(0.25, tuple(values))

    assert found == pytest.approx(math.hypot(0.25, stats.sem(values)), rel=1e-6)


def test_a_resolution_counts_as_a_uniform_distribution() -> None:
    """GUM F.2.2.1: a digit of width d has the standard uncertainty d / sqrt(12)."""
    assert at_least_resolution(0.001, 0.1) == pytest.approx(stats.uniform(0, 0.1).std())
    assert at_least_resolution(0.2, 0.1) == 0.2
    assert at_least_resolution(None, 0.1) is None


@pytest.mark.parametrize(
    ("limits", "finest"),
    [
        (Limits(lower=10.0, upper=12.0), 0.125),
        (Limits(lower=10.0, upper=12.0, nominal=10.5), 0.125),
        (Limits(upper=12.0, nominal=10.0), 0.25),
        (Limits(upper=12.0), 1.5),
    ],
)
def test_four_to_one_is_fine_enough_and_a_hair_more_is_not(
    limits: Limits, finest: float
) -> None:
    """ANSI/NCSL Z540.3 (from memory): the tolerance over twice the 95 % uncertainty is at
    least 4. The expanded uncertainty is twice the standard one."""
    assert not too_coarse(finest, limits)
    assert too_coarse(finest * 1.0001, limits)
    assert not too_coarse(1e9, Limits())

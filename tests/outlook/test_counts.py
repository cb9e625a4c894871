"""Counts of independent parts, and what is read off a distribution.

Outside: scipy's binomial distribution; a convolution by hand; every outcome listed.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.stats import binom

from ringwright.outlook.counts import (
    Shape,
    chance_of,
    high_end,
    low_end,
    middle,
    poisson_binomial,
    spread_out,
)


def test_a_count_of_equal_chances_is_binomial() -> None:
    mass = poisson_binomial(np.full((1, 40), 0.3))[0]

    np.testing.assert_allclose(mass, binom.pmf(np.arange(41), 40, 0.3), atol=1e-14)


def test_three_parts_are_counted_as_by_hand() -> None:
    # None: 0.5 x 0.8 x 0.1; all: 0.5 x 0.2 x 0.9; the rest by listing.
    mass = poisson_binomial(np.array([[0.5, 0.2, 0.9]]))[0]

    np.testing.assert_allclose(mass, [0.04, 0.41, 0.46, 0.09], atol=1e-12)


def test_a_count_is_what_listing_every_outcome_gives() -> None:
    chances = np.random.default_rng(4).random((2, 9))
    listed = np.zeros((2, 10))
    for outcome in itertools.product((0, 1), repeat=9):
        out = np.array(outcome)
        listed[:, out.sum()] += np.where(out, chances, 1 - chances).prod(axis=1)

    np.testing.assert_allclose(poisson_binomial(chances), listed, atol=1e-13)


def test_the_ends_are_whole_parts_with_at_most_a_tenth_beyond() -> None:
    mass = binom.pmf(np.arange(21), 20, 0.4)
    low, high = low_end(mass), high_end(mass)

    assert mass[:low].sum() <= 0.1 < mass[: low + 1].sum()
    assert mass[high + 1 :].sum() <= 0.1 < mass[high:].sum()
    assert middle(mass) == binom.median(20, 0.4)


def test_exactly_a_tenth_below_the_low_end_is_allowed() -> None:
    mass = np.array([0.1, 0.2, 0.4, 0.2, 0.1])

    assert (low_end(mass), high_end(mass)) == (1, 3)


def test_the_chance_of_a_target_counts_the_target_itself() -> None:
    mass = np.array([0.1, 0.2, 0.4, 0.2, 0.1])

    assert chance_of(mass, 3) == pytest.approx(0.3)
    assert chance_of(mass, 2.5) == pytest.approx(0.3)
    assert chance_of(mass, -4) == 1.0
    assert chance_of(mass, 9) == 0.0


@pytest.mark.parametrize("narrow", [1.0, 0.6])
def test_a_shared_term_moves_the_mean_and_adds_its_variance(narrow: float) -> None:
    mass = poisson_binomial(np.full((4, 100), 0.5))
    counts = np.arange(101)

    spread = spread_out(mass, Shape(-3.0, 4.0, narrow), 50, np.random.default_rng(1))

    mean = spread @ counts
    assert spread.sum() == pytest.approx(1.0)
    assert mean == pytest.approx(47.0, abs=0.05)
    # 25 is the variance of 100 even chances; sharing mass between neighbours adds under 1/4.
    variance = spread @ (counts - mean) ** 2
    assert variance == pytest.approx(25 * narrow**2 + 16, abs=0.5)

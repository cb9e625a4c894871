"""Scores of forecasts, by hand and by scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import poisson

from ringwright.outlook.scores import Judged, by_pace, by_weeks, score_of, transform


def judged(low: int, high: int, came: int, chance: float | None, reached: bool) -> Judged:
    return Judged(
        low=low, high=high, came=came, reached=reached if chance is not None else None,
        chance=chance, chance_weeks=0.5, chance_pace=None,
    )  # fmt: skip


def test_coverage_counts_the_ends_and_brier_is_a_mean_square() -> None:
    score = score_of([judged(3, 5, 5, 0.8, True), judged(3, 5, 6, 0.4, False)])

    assert (score.n, score.covered) == (2, 1)
    assert score.brier == pytest.approx((0.2**2 + 0.4**2) / 2)
    assert score.brier_weeks == pytest.approx(0.25)
    assert score.brier_pace is None


def test_without_a_target_there_is_no_brier_score() -> None:
    assert score_of([judged(3, 5, 4, None, False)]).brier is None


def test_naive_forecasts_are_poisson_about_the_last_weeks_and_the_pace() -> None:
    assert by_weeks([60, 62, 58, 64, 900], 10, 66) == pytest.approx(poisson.sf(65, 61.0))
    assert by_weeks([60], 66, 66) == 1.0
    assert by_weeks([], 0, 66) is None
    # 20 out with two fifths gone: 30 more to be expected, 46 more needed.
    assert by_pace(20, 0.4, 66, []) == pytest.approx(poisson.sf(45, 30.0))
    assert by_pace(0, 0.0, 66, [61]) == by_weeks([61], 0, 66)
    assert by_pace(0, 0.5, 66, []) == 0.0


def test_the_transform_lies_within_the_mass_at_what_came() -> None:
    mass = np.array([0.2, 0.5, 0.3])

    assert transform(mass, 1, 0.5) == pytest.approx(0.45)
    assert transform(mass, 7, 0.5) == pytest.approx(1.0)

"""Repeats and outliers, against the e-Handbook, published tables and scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.weighing.repeats import find_outlier, grubbs_critical, summarise

# NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1: mass spectrometer readings of a
# uranium isotope (from Tietjen and Moore, 1972; data and results from memory, recomputed).
URANIUM = (199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57)
# F. E. Grubbs and G. Beck, Technometrics 14 (1972) 847, Table I: upper 2.5 % points, which are
# the two-sided 5 % ones (from memory; the same stand in ASTM E178 and ISO 5725-2).
TABLE = {3: 1.155, 4: 1.481, 5: 1.715, 6: 1.887, 8: 2.126, 10: 2.290, 15: 2.549, 20: 2.709}


@pytest.mark.parametrize(("n", "printed"), TABLE.items())
def test_critical_values_are_those_of_the_table(n: int, printed: float) -> None:
    assert grubbs_critical(n) == pytest.approx(printed, abs=1.5e-3)


def test_the_handbooks_example_finds_the_largest_reading() -> None:
    """Printed: G = 2.4687, critical 2.032 (one-sided there); two-sided it is 2.126."""
    found = find_outlier(URANIUM)

    assert found is not None
    assert found.place == 7
    assert found.g == pytest.approx(2.4687, abs=1e-3)
    assert grubbs_critical(8, 0.10) == pytest.approx(2.032, abs=1.5e-3)


def test_two_readings_cannot_say_which_is_wrong() -> None:
    assert find_outlier((1.0, 900.0)) is None
    with pytest.raises(ValueError, match="three"):
        grubbs_critical(2)


def test_good_readings_are_called_outliers_about_as_often_as_said() -> None:
    random = np.random.default_rng(5)
    found = sum(find_outlier(tuple(random.normal(0, 1, 6))) is not None for _ in range(2_000))

    assert 0.035 < found / 2_000 < 0.065


def test_mean_and_uncertainty_join_scatter_and_gauge() -> None:
    """GUM (JCGM 100:2008), 4.2.3: the standard deviation of the mean is s/sqrt(n)."""
    values = (1630012.0, 1630030.0, 1630024.0, 1630018.0)
    found = summarise(values, (), 18.0)

    assert found is not None
    s = float(np.std(values, ddof=1))
    assert found.mean == 1630021.0
    assert found.scatter == pytest.approx(s)
    assert found.uncertainty == pytest.approx(math.hypot(18.0, s / 2))


def test_what_is_set_aside_does_not_count_and_keeps_its_place() -> None:
    found = summarise((10.0, 99.0, 10.2, 10.1), (1,), None)

    assert found is not None
    assert found.n == 3
    assert found.mean == pytest.approx(10.1)
    assert found.uncertainty is None
    assert summarise((10.0,), (0,), 1.0) is None


def test_the_outlier_is_named_by_its_place_among_all() -> None:
    found = summarise((50.0, 10.0, 10.1, 10.05, 99.0, 10.02, 10.07, 10.03), (0,), None)

    assert found is not None
    assert found.outlier is not None
    assert found.outlier.place == 4


def test_a_mean_of_decimals_has_no_binary_noise() -> None:
    found = summarise((0.1, 0.2, 0.3), (), None)

    assert found is not None
    assert found.mean == 0.2


@given(st.lists(st.floats(-1e9, 1e9), min_size=1, max_size=12))
def test_a_mean_lies_among_its_readings(values: list[float]) -> None:
    found = summarise(values, (), 0.5)

    assert found is not None
    assert min(values) <= found.mean <= max(values)
    assert found.uncertainty is not None
    assert found.uncertainty >= 0.5

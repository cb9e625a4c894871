"""Individuals charts and capability, against the NIST/SEMATECH e-Handbook and drawn samples."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from ringwright.measure.capability import FEWEST, OF_RANGES, capability
from ringwright.measure.chart import BEYOND, D2, D4, SIDE, TREND, individuals_chart

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: flow rates of ten batches.
FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)


def test_the_handbooks_individuals_chart() -> None:
    """Printed with d2 = 1.128: limits 55.8041 and 45.8159; the exact d2 gives 55.80241."""
    chart = individuals_chart(FLOW)

    assert chart is not None
    assert chart.mean == pytest.approx(50.81)
    assert chart.range_mean == pytest.approx(1.877778, abs=1e-6)
    assert chart.high == pytest.approx(55.80241, abs=1e-5)
    assert chart.low == pytest.approx(45.81759, abs=1e-5)
    assert chart.high == pytest.approx(55.8041, abs=2e-3)
    assert chart.range_high == pytest.approx(6.1347, abs=1e-3)
    assert chart.steady


def test_the_constants_are_those_of_the_tables() -> None:
    """ASTM MNL7 table of factors for n = 2: d2 1.128, D4 3.267."""
    assert pytest.approx(1.128, abs=5e-4) == D2
    assert pytest.approx(3.267, abs=1e-3) == D4


def test_a_reading_far_off_is_beyond_and_the_others_are_not() -> None:
    steady = [0.0, 1.0] * 10
    calm = individuals_chart([*steady, 0.5])
    edge = individuals_chart([*steady, 9.0])

    assert calm is not None
    assert edge is not None
    assert BEYOND not in {rule for rules in calm.flags.values() for rule in rules}
    assert [place for place, rules in edge.flags.items() if BEYOND in rules] == [20]


def test_nine_on_one_side_and_six_that_rise_are_told_at_the_reading_that_ends_them() -> None:
    """L. S. Nelson, Journal of Quality Technology 16 (1984) 237, tests 2 and 3."""
    side = individuals_chart([-3, 3, -3, 3, -3, *([1, 2] * 4), 1, -3, -9])
    rising = individuals_chart([0, 9, 0, 1, 2, 3, 4, 5, 0, 9])

    assert side is not None
    assert [place for place, rules in side.flags.items() if SIDE in rules] == [13]
    assert rising is not None
    assert [place for place, rules in rising.flags.items() if TREND in rules] == [7]


def test_a_step_of_three_sigma_is_seen_within_a_few_readings() -> None:
    random = np.random.default_rng(3)
    values = [float(v) for v in (*random.normal(0, 1, 40), *random.normal(3, 1, 12))]

    chart = individuals_chart(values)

    assert chart is not None
    assert any(40 <= place < 52 for place in chart.flags)


def _indices(values: list[float], lower: float | None, upper: float | None) -> dict[str, float]:
    found = capability(values, lower, upper)
    assert found is not None
    return {one.name: one.value for one in found.indices}


def test_the_handbooks_example_of_cp_and_cpk() -> None:
    """NIST/SEMATECH e-Handbook 6.1.6: USL 20, LSL 8, mean 16, s 2: Cp 1.0, Cpk 0.6667."""
    half = 2 * math.sqrt(39 / 40)  # so that s is 2 with n = 40
    values = [16 - half, 16 + half] * 20

    found = _indices(values, 8, 20)

    assert found["Pp"] == pytest.approx(1.0)
    assert found["Ppk"] == pytest.approx(2 / 3)


def test_with_one_limit_there_is_the_nearest_index_alone() -> None:
    random = np.random.default_rng(5)
    values = [float(one) for one in random.normal(10, 1, 50)]

    upper = _indices(values, None, 14)
    lower = _indices(values, 6, None)

    mean, s = float(np.mean(values)), float(np.std(values, ddof=1))
    assert set(upper) == set(lower) == {"Cpk", "Ppk"}
    assert upper["Ppk"] == pytest.approx((14 - mean) / (3 * s))
    assert lower["Ppk"] == pytest.approx((mean - 6) / (3 * s))


def test_without_limits_there_is_no_index() -> None:
    assert _indices([float(n % 7) for n in range(30)], None, None) == {}


def test_the_interval_of_pp_is_scipys() -> None:
    random = np.random.default_rng(11)
    values = [float(one) for one in random.normal(0, 1, 25)]
    found = capability(values, -4, 4)
    assert found is not None
    pp = found.index("Pp")
    assert pp is not None

    s2 = float(np.var(values, ddof=1))
    low, high = stats.chi2.interval(0.95, 24)

    assert pp.low == pytest.approx(8 / 6 / math.sqrt(24 * s2 / low))
    assert pp.high == pytest.approx(8 / 6 / math.sqrt(24 * s2 / high))


@pytest.mark.parametrize("name", ["Cp", "Cpk", "Pp", "Ppk"])
def test_intervals_cover_the_truth_about_as_often_as_they_say(name: str) -> None:
    random = np.random.default_rng(17)
    truth = {"Cp": 4 / 3, "Cpk": 1.0, "Pp": 4 / 3, "Ppk": 1.0}[name]
    covered = 0
    for _ in range(600):
        found = capability([float(v) for v in random.normal(1, 1, 40)], -4, 4)
        assert found is not None
        index = found.index(name)
        assert index is not None
        covered += index.low <= truth <= index.high

    assert 0.91 < covered / 600 < 0.985


def test_the_degrees_of_freedom_of_moving_ranges_are_as_drawn() -> None:
    """Hoel's 0.605 (n - 1) against 4,000 drawn samples."""
    random = np.random.default_rng(23)
    n = 60
    draws = random.normal(0, 1, (4_000, n))
    sigma = np.abs(np.diff(draws, axis=1)).mean(axis=1) / D2

    df = 1 / (2 * float(np.var(sigma) / np.mean(sigma) ** 2))

    assert df == pytest.approx(OF_RANGES * (n - 1), rel=0.08)


def test_too_few_or_all_equal_say_nothing() -> None:
    assert capability([1.0, 2.0] * ((FEWEST - 1) // 2), 0, 3) is None
    assert capability([1.0] * 30, 0, 3) is None
    assert individuals_chart([1.0]) is None


def test_a_skew_process_is_told_as_not_normal() -> None:
    random = np.random.default_rng(29)
    skew = capability([float(v) for v in random.exponential(1, 100)], 0, 9)
    straight = capability([float(v) for v in random.normal(0, 1, 100)], -5, 5)

    assert skew is not None
    assert straight is not None
    assert not skew.normal
    assert straight.normal

"""Crossed gauge studies, against the worked example of the MSA manual and statsmodels."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2
from statsmodels.formula.api import ols

from ringwright.core.errors import Refused
from ringwright.measure.study import (
    GAUGE,
    INTERACTION,
    OPERATOR,
    PART,
    REPEAT,
    TOTAL,
    StudyReading,
    crossed_study,
)

# Appraiser, trial, then parts 1 to 10: AIAG, Measurement Systems Analysis, 4th ed. (2010),
# worked form (data and printed results from memory; each agrees with the other to 4 figures).
MSA = """
A 1 0.29 -0.56 1.34 0.47 -0.8 0.02 0.59 -0.31 2.26 -1.36
A 2 0.41 -0.68 1.17 0.5 -0.92 -0.11 0.75 -0.2 1.99 -1.25
A 3 0.64 -0.58 1.27 0.64 -0.84 -0.21 0.66 -0.17 2.01 -1.31
B 1 0.08 -0.47 1.19 0.01 -0.56 -0.2 0.47 -0.63 1.8 -1.68
B 2 0.25 -1.22 0.94 1.03 -1.2 0.22 0.55 0.08 2.12 -1.62
B 3 0.07 -0.68 1.34 0.2 -1.28 0.06 0.83 -0.34 2.19 -1.5
C 1 0.04 -1.38 0.88 0.14 -1.46 -0.29 0.02 -0.46 1.77 -1.49
C 2 -0.11 -1.13 1.09 0.2 -1.07 -0.67 0.01 -0.56 1.45 -1.77
C 3 -0.15 -0.96 0.67 0.11 -1.45 -0.49 0.21 -0.49 1.87 -2.16
"""


def readings(text: str = MSA) -> list[StudyReading]:
    """The example as readings."""
    found = []
    for line in text.strip().splitlines():
        who, _trial, *values = line.split()
        found += [
            StudyReading(part=str(part), operator=who, value=float(value))
            for part, value in enumerate(values, start=1)
        ]
    return found


def test_the_sums_of_squares_of_the_manuals_example() -> None:
    table = {one.name: one for one in crossed_study(readings()).table}

    assert table[PART].ss == pytest.approx(88.361934, abs=1e-5)
    assert table[OPERATOR].ss == pytest.approx(3.167262, abs=1e-5)
    assert table[INTERACTION].ss == pytest.approx(0.358982, abs=1e-5)
    assert table[REPEAT].ss == pytest.approx(2.758933, abs=1e-5)
    assert table[TOTAL].ss == pytest.approx(94.647112, abs=1e-5)
    assert table[INTERACTION].f == pytest.approx(0.4337, abs=1e-4)


def test_the_components_of_the_manuals_example() -> None:
    answer = crossed_study(readings())

    assert answer.pooled
    assert answer.component(REPEAT).sigma == pytest.approx(0.199933, abs=1e-5)
    assert answer.component(OPERATOR).sigma == pytest.approx(0.226838, abs=1e-5)
    assert answer.component(GAUGE).sigma == pytest.approx(0.302372, abs=1e-5)
    assert answer.component(PART).sigma == pytest.approx(1.042327, abs=1e-5)
    assert answer.component(GAUGE).of_total == pytest.approx(0.2786, abs=1e-4)
    assert answer.categories == 4
    assert answer.verdict == "usable with care"
    assert answer.judged_by == "total"


def test_the_order_of_the_readings_says_nothing() -> None:
    forth, back = crossed_study(readings()), crossed_study(readings()[::-1])

    assert [one.sigma for one in back.components] == pytest.approx(
        [one.sigma for one in forth.components]
    )


@pytest.mark.parametrize("seed", range(6))
def test_the_table_is_that_of_statsmodels(seed: int) -> None:
    """Two-way analysis of variance with interaction, by statsmodels' own linear model."""
    random = np.random.default_rng(seed)
    p, o, r = 4 + seed, 2 + seed % 3, 2 + seed % 2
    tilt = random.normal(0, 0.6, (p, o))
    cube = random.normal(0, 2, (p, 1, 1)) + random.normal(0, 1, (1, o, 1)) + tilt[:, :, None]
    cube = cube + random.normal(0, 0.5, (p, o, r))
    rows = [
        (str(i), str(j), float(cube[i, j, k]))
        for i in range(p)
        for j in range(o)
        for k in range(r)
    ]
    frame = pd.DataFrame(rows, columns=["part", "who", "value"])
    theirs = sm.stats.anova_lm(ols("value ~ C(part) * C(who)", frame).fit(), typ=2)

    answer = crossed_study([StudyReading(part=a, operator=b, value=v) for a, b, v in rows])
    ours = {one.name: one for one in answer.table}

    for name, row in (
        (PART, "C(part)"), (OPERATOR, "C(who)"), (INTERACTION, "C(part):C(who)"),
        (REPEAT, "Residual"),
    ):  # fmt: skip
        assert ours[name].ss == pytest.approx(theirs.loc[row, "sum_sq"], rel=1e-9, abs=1e-9)
        assert ours[name].df == theirs.loc[row, "df"]
    chance = theirs.loc["C(part):C(who)", "PR(>F)"]
    assert ours[INTERACTION].p == pytest.approx(chance, abs=1e-9)


def test_tolerance_percentages_with_two_limits_and_with_one() -> None:
    two = crossed_study(readings(), lower=-4.0, upper=4.0)
    one = crossed_study(readings(), upper=two.mean + 4.0)

    assert two.component(GAUGE).of_tolerance == pytest.approx(6 * 0.302372 / 8, abs=1e-5)
    assert one.component(GAUGE).of_tolerance == pytest.approx(3 * 0.302372 / 4, abs=1e-5)
    assert two.judged_by == "tolerance"


def test_the_interval_of_repeatability_is_the_chi_square_one() -> None:
    """78 degrees of freedom after pooling; scipy's chi-square, 95 %."""
    found = crossed_study(readings()).component(REPEAT)

    assert found.low == pytest.approx(found.sigma * math.sqrt(78 / chi2.ppf(0.975, 78)))
    assert found.high == pytest.approx(found.sigma * math.sqrt(78 / chi2.ppf(0.025, 78)))


def test_the_interval_of_the_gauge_covers_the_truth_as_often_as_it_says() -> None:
    """Drawn studies with known components; Satterthwaite's interval is approximate."""
    random = np.random.default_rng(7)
    p, o, r, tries = 10, 8, 3, 300
    truth = math.sqrt(0.3**2 + 0.4**2)
    covered = told = 0
    for _ in range(tries):
        cube = random.normal(0, 1, (p, 1, 1)) + random.normal(0, 0.4, (1, o, 1))
        cube = cube + random.normal(0, 0.3, (p, o, r))
        found = crossed_study(
            [
                StudyReading(part=str(i), operator=str(j), value=float(cube[i, j, k]))
                for i in range(p)
                for j in range(o)
                for k in range(r)
            ]
        ).component(GAUGE)
        if found.low is None or found.high is None:
            continue
        told += 1
        covered += found.low <= truth <= found.high

    assert told > 0.7 * tries
    assert 0.90 < covered / told < 0.99


def test_the_intervals_of_parts_and_operators_cover_the_truth() -> None:
    """Drawn studies; the modified large-sample interval keeps its 95 % within what 300 show."""
    random = np.random.default_rng(41)
    p, o, r, tries = 8, 5, 2, 300
    truth = {PART: 1.0, OPERATOR: 0.4}
    covered = dict.fromkeys(truth, 0)
    for _ in range(tries):
        cube = random.normal(0, 1, (p, 1, 1)) + random.normal(0, 0.4, (1, o, 1))
        cube = cube + random.normal(0, 0.3, (p, o, r))
        answer = crossed_study(
            [
                StudyReading(part=str(i), operator=str(j), value=float(cube[i, j, k]))
                for i in range(p)
                for j in range(o)
                for k in range(r)
            ]
        )
        for name, sigma in truth.items():
            found = answer.component(name)
            assert found.low is not None
            assert found.high is not None
            covered[name] += found.low <= sigma <= found.high

    assert all(0.92 < count / tries < 0.98 for count in covered.values()), covered


def test_a_mean_beyond_the_only_limit_leaves_no_tolerance_to_share() -> None:
    mean = crossed_study(readings()).mean

    beyond = crossed_study(readings(), upper=mean - 1.0)
    below = crossed_study(readings(), lower=mean + 1.0)

    assert beyond.component(GAUGE).of_tolerance is None
    assert below.component(GAUGE).of_tolerance is None
    assert beyond.judged_by == "total"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("A 1 1 2 3\nA 2 1 2 3", "two operators at least, not 1"),
        ("A 1 1\nA 2 1\nB 1 1\nB 2 2", "two parts at least, not 1"),
        ("A 1 1 2\nB 1 1 2", "twice at least"),
        ("A 1 1 2\nA 2 1 2\nB 1 1 2", r"equally often \(2 times\): B read 1 1 times"),
        ("A 1 1 1\nA 2 1 1\nB 1 1 1\nB 2 1 1", "all readings of the study are the same"),
        ("A 1 1 2\nA 2 1 nan\nB 1 1 2\nB 2 1 2", "not a finite number"),
    ],
)
def test_what_is_no_crossed_study_is_refused_with_the_reason(text: str, why: str) -> None:
    with pytest.raises(Refused, match=why):
        crossed_study(readings(text))


def test_a_gauge_without_any_scatter_leaves_all_variation_to_the_parts() -> None:
    answer = crossed_study(readings("A 1 1 2\nA 2 1 2\nB 1 1 2\nB 2 1 2"))

    assert answer.component(GAUGE).sigma == 0.0
    assert answer.categories is None
    assert answer.component(PART).of_total == 1.0


@settings(max_examples=60)
@given(
    st.lists(st.lists(st.integers(-999, 999), min_size=4, max_size=4), min_size=4, max_size=4)
)
def test_shares_of_variance_add_up_and_none_is_below_zero(rows: list[list[int]]) -> None:
    given_readings = [
        StudyReading(part=str(place), operator="AABB"[line], value=float(value))
        for line, values in enumerate(rows)
        for place, value in enumerate(values)
    ]
    try:
        answer = crossed_study(given_readings)
    except Refused:
        assert len({v for row in rows for v in row}) == 1
        return

    shares = {one.name: one.of_variance for one in answer.components}
    assert all(share >= 0 for share in shares.values())
    assert shares[GAUGE] + shares[PART] == pytest.approx(1.0)

"""Shares, intervals and p-chart limits against published figures.

- Wilson's interval: R. G. Newcombe, Statistics in Medicine 17 (1998) 857, Table I, and
  statsmodels `proportion_confint(method="wilson")`.
- p-chart: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2, the wafer example of 30
  samples of 50. The limits that it prints were not to be had; its rule is, and which wafers lie
  outside is worked out with statsmodels' standard error beside ours.
- Rolled throughput yield: T. Pyzdek, The Six Sigma Project Planner (2003), p. 227; P. Keller,
  Six Sigma Demystified, p. 94.
- First-pass yield, final yield (quality ratio), scrap and rework ratio: ISO 22400-2, as its
  published ontology gives the formulae.
"""

from __future__ import annotations

import csv
from math import exp, sqrt
from pathlib import Path

import pytest
from statsmodels.stats.proportion import proportion_confint, std_prop

from ringwright.yields.rules import (
    AS_BEFORE,
    HIGHER,
    LOWER,
    NO_LIMITS,
    SMALL,
    compared,
    limits,
    rolled,
    share,
)

DATA = Path(__file__).parent / "data"
NEWCOMBE = [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718)]  # fmt: skip


@pytest.mark.parametrize(("part", "n", "low", "high"), NEWCOMBE)
def test_intervals_are_those_that_newcombe_prints(
    part: int, n: int, low: float, high: float
) -> None:
    found = share(part, n)

    assert found.low == pytest.approx(low, abs=5e-5)
    assert found.high == pytest.approx(high, abs=5e-5)
    assert (found.low, found.high) == pytest.approx(
        proportion_confint(part, n, method="wilson"), abs=1e-12
    )


@pytest.mark.parametrize(("part", "n", "loads"), [(500, 537, 135), (9, 9, 2), (0, 12, 3),
                                                  (17, 40, 7)])  # fmt: skip
def test_by_loads_the_value_is_of_parts_and_the_interval_of_loads(
    part: int, n: int, loads: int
) -> None:
    found = share(part, n, loads)

    assert found.value == part / n
    assert (found.low, found.high) == pytest.approx(
        proportion_confint(part / n * loads, loads, method="wilson"), abs=1e-12
    )
    plain = share(part, n)
    assert found.low is not None
    assert plain.low is not None
    assert found.low < plain.low or part == 0


def test_the_wafers_outside_their_limits_are_those_of_the_handbook() -> None:
    with (DATA / "nist_p_chart.csv").open(encoding="utf-8") as file:
        wafers = list(csv.DictReader(file))
    n = 50
    fractions = [int(row["defective"]) / n for row in wafers]
    centre = sum(fractions) / len(fractions)
    low, high = limits(centre, n)

    assert centre == pytest.approx(0.2313, abs=5e-5)
    assert (low, high) == pytest.approx(
        (centre - 3 * std_prop(centre, n), centre + 3 * std_prop(centre, n)), abs=1e-12
    )
    outside = [row["wafer"] for row, p in zip(wafers, fractions, strict=True)
               if not low <= p <= high]  # fmt: skip
    assert outside == [row["wafer"] for row in wafers if row["out_of_limits"] == "1"]
    assert outside == ["15", "23"]


def test_as_yields_the_same_wafers_lie_outside() -> None:
    with (DATA / "nist_p_chart.csv").open(encoding="utf-8") as file:
        bad = {row["wafer"]: int(row["defective"]) for row in csv.DictReader(file)}
    centre = 1 - sum(bad.values()) / (50 * len(bad))
    low, high = limits(centre, 50)

    assert [wafer for wafer, n in bad.items() if not low <= 1 - n / 50 <= high] == ["15", "23"]


def test_limits_stay_between_nothing_and_all() -> None:
    assert limits(0.02, 20)[0] == 0.0
    assert limits(0.98, 20)[1] == 1.0


def test_rolled_throughput_yield_as_published() -> None:
    per_million = (5000, 15000, 1000, 50)
    assert rolled(1 - dpmo / 1e6 for dpmo in per_million) == pytest.approx(0.979046, abs=1e-6)
    assert (rolled(1 - dpmo / 1e6 for dpmo in per_million) or 0) ** 0.25 == pytest.approx(
        0.99472, abs=5e-6
    )
    assert rolled([0.73 ** (1 / 6)] * 6) == pytest.approx(0.73)
    assert rolled([0.95] * 6) == pytest.approx(0.735092, abs=1e-6)
    assert rolled(exp(-dpu) for dpu in (0.10, 0.05, 0.008)) == pytest.approx(0.853850, abs=1e-6)
    # A page that works this out prints .612; that product needs .80 where it says .95.
    assert rolled([0.85, 0.90, 0.95]) == pytest.approx(0.72675)


def test_steps_without_a_first_visit_are_left_out_and_none_is_nothing() -> None:
    assert rolled([0.9, None, 0.5]) == pytest.approx(0.45)
    assert rolled([None]) is None


def test_a_change_is_said_only_beyond_the_limits_and_never_of_few() -> None:
    before = share(970, 1000)
    edge = 0.97 - 3 * sqrt(0.97 * 0.03 / 200)

    assert compared(share(int(edge * 200), 200), before) == LOWER
    assert compared(share(int(edge * 200) + 1, 200), before) == AS_BEFORE
    assert compared(share(5000, 5000), before) == HIGHER
    assert compared(share(1, 19), before) == SMALL
    assert compared(share(100, 200, 19), before) == SMALL
    assert compared(share(199, 200), share(300, 300)) == NO_LIMITS

"""Signals of control charts, against printed examples and printed run lengths."""

from __future__ import annotations

import math
from itertools import pairwise, permutations

import numpy as np
import pytest
from scipy import stats

from ringwright.measure.signals import (
    BEYOND,
    FOUR_OF_FIVE,
    RULES,
    SIDE,
    SIX_RISING,
    TWO_OF_THREE,
    ZONE_RULES,
    binomial_zones,
    by_chance,
    chance_of_six,
    false_signals,
    normal_zones,
    rising,
    run_length,
    signals,
    zone_of,
)

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2: defective of 50 sites, 30 wafers.
WAFERS = (
    12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22,
    8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6,
)  # fmt: skip
# The same, 6.3.3.1: defects on 25 wafers. Wafer 3 with 28 stands on the limit.
DEFECTS = (
    16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16,
    31, 13,
)  # fmt: skip


def test_the_handbooks_p_chart_has_two_wafers_out() -> None:
    centre = sum(WAFERS) / (50 * len(WAFERS))
    sigma = math.sqrt(centre * (1 - centre) / 50)
    assert centre == pytest.approx(0.231333, abs=1e-6)
    assert centre + 3 * sigma == pytest.approx(0.410239, abs=1e-6)
    assert centre - 3 * sigma == pytest.approx(0.052428, abs=1e-6)

    found = signals([zone_of(k / 50, centre, sigma) for k in WAFERS], (BEYOND,))

    assert [place + 1 for place in found] == [15, 23]


def test_a_point_on_the_limit_is_no_signal() -> None:
    """The handbook's c chart: limits 4 and 28, and wafer 24 alone is out."""
    zones = [zone_of(found, 16, 4) for found in DEFECTS]

    assert [place + 1 for place in signals(zones, (BEYOND,))] == [24]


def test_each_rule_is_told_at_the_point_that_breaks_it_and_begins_anew() -> None:
    """Patterns drawn after Nelson's figures (1984): tests 2, 5 and 6."""
    assert signals([1] * 8, (SIDE,)) == {}
    assert signals([1] * 10, (SIDE,)) == {8: (SIDE,)}
    assert signals([1, -1, *[-1] * 8], (SIDE,)) == {9: (SIDE,)}
    assert signals([1] * 5 + [0] + [1] * 5, (SIDE,)) == {}
    assert signals([3, 0, 3], (TWO_OF_THREE,)) == {2: (TWO_OF_THREE,)}
    assert signals([3, 0, -3], (TWO_OF_THREE,)) == {}
    assert signals([3, 3, 0], (TWO_OF_THREE,)) == {1: (TWO_OF_THREE,)}
    assert signals([2, 2, 0, 3, 2], (FOUR_OF_FIVE,)) == {4: (FOUR_OF_FIVE,)}
    assert signals([2, 2, 0, 0, 3, 2], (FOUR_OF_FIVE,)) == {}
    assert signals([3, None, 3], (TWO_OF_THREE,)) == {2: (TWO_OF_THREE,)}
    assert signals([4, 1, 3, 3], RULES) == {0: (BEYOND,), 3: (TWO_OF_THREE,)}


@pytest.mark.parametrize(
    ("rules", "printed"),
    [
        ((BEYOND,), 370.40),
        ((BEYOND, TWO_OF_THREE), 225.44),
        ((BEYOND, FOUR_OF_FIVE), 166.05),
        ((BEYOND, SIDE), 152.73),
        ((BEYOND, TWO_OF_THREE, FOUR_OF_FIVE), 132.89),
        ((BEYOND, TWO_OF_THREE, SIDE), 122.05),
        ((BEYOND, FOUR_OF_FIVE, SIDE), 105.78),
        (RULES, 91.75),
    ],
)
def test_run_lengths_are_those_printed(rules: tuple[str, ...], printed: float) -> None:
    """Champ and Woodall, Technometrics 29 (1987) 393, Table 1, no shift, with eight on a side.

    Printed values from memory.
    """
    assert run_length(normal_zones(), rules, one_side=8) == pytest.approx(printed, abs=0.006)


def test_nine_on_one_side_alone_takes_five_hundred_and_eleven_points() -> None:
    """Runs of a fair coin: 2^9 - 1 throws until the first nine alike, less one to begin."""
    assert run_length({1: 0.5, -1: 0.5}, (SIDE,)) == pytest.approx(2**8 * 2 - 1)
    assert run_length({1: 1.0}, (BEYOND,)) == math.inf


@pytest.mark.parametrize(("n", "centre"), [(50, 0.2313), (20, 0.95), (7, 0.5)])
def test_the_chance_at_a_point_is_the_binomials(n: int, centre: float) -> None:
    """scipy's binomial tails past the three-sigma limits."""
    reach = 3 * math.sqrt(centre * (1 - centre) / n)
    outside = [k for k in range(n + 1) if abs(k / n - centre) > reach]
    chances = binomial_zones(n, centre)

    assert sum(chances.values()) == pytest.approx(1)
    wanted = sum(stats.binom.pmf(k, n, centre) for k in outside)
    assert false_signals([chances], (BEYOND,)) == [pytest.approx(wanted, abs=1e-12)]


def test_in_the_long_run_the_chance_is_one_over_the_run_length() -> None:
    chances = normal_zones()

    at_last = false_signals([chances] * 160, ZONE_RULES)[-1]

    assert at_last == pytest.approx(1 / run_length(chances, ZONE_RULES), rel=1e-3)


def test_six_that_rise_or_fall_are_told_once_a_run_at_the_sixth() -> None:
    """Nelson's figure of test 3 (1984): six points steadily increasing or decreasing."""

    def told(*values: float | None) -> list[int]:
        zones = [None if value is None else 0 for value in values]
        return list(signals(zones, (SIX_RISING,), values))

    assert told(1, 2, 3, 4, 5) == []
    assert told(5, 1, 2, 3, 4, 5, 6, 7, 8) == [6]
    assert told(9, 8, 7, 6, 5, 4, 5, 6, 7, 8, 9) == [5, 10]  # the turning point is of both
    assert told(1, 2, 3, 3, 4, 5, 6) == []
    assert told(1, 2, 3, None, 4, 5, 6) == [6]
    assert signals([0, 0, 0, 0, 0, 4], (BEYOND, SIX_RISING), [1, 2, 3, 4, 5, 9]) == {
        5: (BEYOND, SIX_RISING)
    }


def test_false_signals_of_six_are_those_of_every_order_of_the_points() -> None:
    """All 40,320 orders of eight, and Levene and Wolfowitz (1944): 2 (6 n - 29) / 7!."""
    count = [0] * 8
    for order in permutations(range(8)):
        ups = [b > a for a, b in pairwise(order)]
        for place in range(5, 8):
            last = ups[place - 5 : place]
            began = place == 5 or ups[place - 6] != ups[place - 5]
            count[place] += len(set(last)) == 1 and began

    chances = [chance_of_six(place) for place in range(8)]

    assert chances == pytest.approx([found / math.factorial(8) for found in count])
    for n in (6, 8, 100):
        expected = 2 * (6 * n - 29) / math.factorial(7)
        assert sum(map(chance_of_six, range(n))) == pytest.approx(expected)


def test_a_drawn_series_has_as_many_runs_of_six_as_expected() -> None:
    """numpy: 100,000 normal values have 2 (6 n - 29) / 7! = 238 runs, with their scatter."""
    values = np.random.default_rng(1984).normal(size=100_000)

    found = len(rising([0] * values.size, values.tolist()))

    expected = sum(map(chance_of_six, range(values.size)))
    assert found == pytest.approx(expected, abs=4 * math.sqrt(expected))


def test_more_kinds_of_rules_add_up_their_false_signals() -> None:
    six = chance_of_six(100)

    assert by_chance(RULES) == pytest.approx(by_chance(ZONE_RULES) + six)
    assert false_signals([normal_zones()] * 9, (BEYOND, SIX_RISING))[-1] == pytest.approx(
        2 * stats.norm.sf(3) + six
    )


@pytest.mark.long
def test_a_simulation_finds_as_many_false_signals_as_the_chain() -> None:
    random = np.random.default_rng(41)
    points = 200_000
    shares = random.binomial(60, 0.9, points) / 60
    sigma = math.sqrt(0.9 * 0.1 / 60)

    found = signals([zone_of(float(one), 0.9, sigma) for one in shares], RULES)

    wanted = points / run_length(binomial_zones(60, 0.9), RULES)
    assert len(found) == pytest.approx(wanted, abs=4 * math.sqrt(wanted))

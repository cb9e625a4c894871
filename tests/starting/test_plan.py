"""How many to start. With known yields the answer is the negative binomial quantile.

Sources: SciPy 1.17 `scipy.stats.nbinom` and `binom`, with which the table of starts was worked
out (reject allowance, method from memory). A simulation of its own is the last voice.
"""

from __future__ import annotations

from math import ceil

import numpy as np
import pytest
from scipy.stats import betabinom, binom, nbinom

from ringwright.starting.plan import (
    Evidence,
    NotReached,
    chance_of,
    draw_yields,
    from_work,
    how_many,
    to_the_end,
)

TABLE = [
    # needed, yield, sure, start, chance, one less, plain, its chance
    (10, 0.8, 0.9, 15, 0.938949, 0.870160, 13, 0.7473),
    (10, 0.8, 0.95, 16, 0.973343, 0.938949, 13, 0.7473),
    (10, 0.8, 0.99, 18, 0.995748, 0.989066, 13, 0.7473),
    (20, 0.72675, 0.95, 33, 0.955954, 0.928171, 28, 0.6507),
    (22, 0.85, 0.95, 30, 0.972222, 0.941417, 26, 0.6505),
    (24, 0.6, 0.9, 47, 0.918123, 0.890670, 40, 0.5681),
]


@pytest.mark.parametrize("row", TABLE)
def test_with_a_known_yield_it_is_the_negative_binomial_quantile(
    row: tuple[int, float, float, int, float, float, int, float],
) -> None:
    needed, share, sure, start, chance, one_less, plain, plain_chance = row
    known = [Evidence(step=10, assumed=share)]

    answer = how_many(needed, sure, known, [0])

    assert answer.start == start == needed + nbinom.ppf(sure, needed, share)
    assert answer.chance == pytest.approx(chance, abs=1e-6)
    ahead = to_the_end(draw_yields(known))
    nothing = from_work(ahead, [0])
    assert chance_of(needed, start - 1, ahead, nothing) == pytest.approx(one_less, abs=1e-6)
    assert (answer.plain, ceil(needed / share)) == (plain, plain)
    assert answer.plain_chance == pytest.approx(plain_chance, abs=5e-5)


def test_steps_in_a_row_multiply() -> None:
    steps = [
        Evidence(step=n, assumed=share) for n, share in ((10, 0.85), (20, 0.9), (30, 0.95))
    ]
    assert how_many(20, 0.95, steps, [0, 0, 0]).start == 33


def test_what_is_known_from_counts_alone_is_the_beta_binomial() -> None:
    known = [Evidence(step=10, through=45, lost=5)]
    ahead = to_the_end(draw_yields(known, draws=4096))
    nothing = from_work(ahead, [0])

    for start in (24, 26, 30):
        exact = betabinom.sf(21, start, 45.5, 5.5)
        assert chance_of(22, start, ahead, nothing) == pytest.approx(exact, abs=0.002)
    sure = how_many(22, 0.9, known, [0])
    assert sure.start > how_many(22, 0.9, [Evidence(step=10, assumed=0.9)], [0]).start


def test_parts_of_one_load_tell_less_than_parts_by_themselves() -> None:
    alone = Evidence(step=10, through=45, lost=5)
    in_loads = Evidence(step=10, through=45, lost=5, parts_a_load=10.0)

    assert how_many(22, 0.9, [in_loads], [0]).start > how_many(22, 0.9, [alone], [0]).start
    low, high = in_loads.interval()
    assert low < alone.interval()[0]
    assert high > alone.interval()[1]


def test_parts_in_work_come_through_as_a_sum_of_binomials() -> None:
    steps = [Evidence(step=n, assumed=0.8) for n in (10, 20)]
    ahead = to_the_end(draw_yields(steps, draws=2))

    found = from_work(ahead, [3, 4])[0]

    wanted = np.convolve(binom.pmf(np.arange(4), 3, 0.64), binom.pmf(np.arange(5), 4, 0.8))
    assert found == pytest.approx(wanted, abs=1e-12)


def test_a_simulation_of_parts_one_by_one_says_the_same() -> None:
    known = [
        Evidence(step=10, through=90, lost=10),
        Evidence(step=20, through=40, lost=8, parts_a_load=4.0),
        Evidence(step=30, assumed=0.97),
    ]
    work = [5, 0, 9]
    answer = how_many(44, 0.9, known, work)

    dice = np.random.default_rng(7)
    runs, enough = 20_000, 0
    for _ in range(runs):
        y = [
            one.assumed if one.assumed is not None else dice.beta(*one.posterior)
            for one in known
        ]
        new = dice.binomial(answer.start, y[0] * y[1] * y[2])
        enough += new + dice.binomial(5, y[0] * y[1] * y[2]) + dice.binomial(9, y[2]) >= 44
    assert enough / runs == pytest.approx(answer.chance, abs=0.02)
    assert answer.ladder == tuple(sorted(answer.ladder))
    assert all(sure <= chance for sure, _start, chance in answer.ladder)


def test_enough_in_work_starts_none_and_the_impossible_is_said() -> None:
    assert how_many(2, 0.9, [Evidence(step=10, assumed=1.0)], [5]).start == 0
    with pytest.raises(NotReached):
        how_many(100, 0.9, [Evidence(step=10, assumed=0.001)], [0])

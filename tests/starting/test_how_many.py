"""How many to start, against published figures and scipy's own laws.

`planned_start.csv`: starts for k good ones, from the negative binomial law, with the
probability at that number, at one less and at the plain ratio.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import nbinom

from ringwright.starting.how_many import (
    known_yield,
    learned_yield,
    starts_for,
    through,
)

with (Path(__file__).parent / "planned_start.csv").open(newline="") as file:
    ROWS = list(csv.DictReader(file))


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['good_needed_k']}-{r['confidence']}")
def test_the_published_starts(row: dict[str, str]) -> None:
    needed, share = int(row["good_needed_k"]), known_yield(float(row["yield"]))
    found = starts_for(needed, share, float(row["confidence"]))

    assert found.starts == int(row["start_n"])
    assert found.sure == pytest.approx(float(row["P_at_n"]), abs=6e-7)
    before = share.enough(found.starts - 1, needed)
    assert before == pytest.approx(float(row["P_at_n_minus_1"]), abs=6e-7)
    assert found.plain == int(row["naive_ceil"])
    assert found.plain_sure == pytest.approx(float(row["P_success_at_naive"]), abs=6e-5)


def test_a_known_yield_gives_the_negative_binomial_quantile() -> None:
    for needed in (1, 7, 22, 68):
        for value in (0.31, 0.8, 0.955, 1.0):
            found = starts_for(needed, known_yield(value), 0.9)
            assert found.starts == needed + nbinom.ppf(0.9, needed, value)


def test_a_yield_that_is_learned_asks_for_more_and_settles_with_the_record() -> None:
    known = starts_for(66, known_yield(0.9), 0.9).starts
    learned = [
        starts_for(66, learned_yield(9 * n, 10 * n), 0.9).starts for n in (2, 20, 20_000)
    ]

    assert learned[0] > learned[1] > known
    assert learned[2] == known


def test_steps_one_after_another_have_the_moments_of_their_product() -> None:
    """Against a million draws from the posteriors themselves."""
    steps = [learned_yield(45, 50), learned_yield(19, 20), learned_yield(120, 121)]
    route = through([*steps, known_yield(0.97)])
    rng = np.random.default_rng(7)
    drawn = np.prod([rng.beta(s.a, s.b, 1_000_000) for s in steps], axis=0) * 0.97

    assert route.mean == pytest.approx(drawn.mean(), abs=4e-4)
    assert route.interval() == pytest.approx(
        tuple(np.quantile(drawn, (0.025, 0.975))), abs=0.006
    )
    good = rng.binomial(80, drawn)
    assert route.enough(80, 66) == pytest.approx((good >= 66).mean(), abs=0.006)


def test_one_step_alone_keeps_its_own_law() -> None:
    one = learned_yield(18, 20)

    assert (through([one]).a, through([one]).b) == (pytest.approx(one.a), pytest.approx(one.b))
    assert through([known_yield(0.9), known_yield(0.8)]).known


def test_nothing_needed_asks_for_no_start() -> None:
    assert starts_for(0, learned_yield(1, 2), 0.9).starts == 0


def test_what_cannot_be_asked_is_refused() -> None:
    with pytest.raises(ValueError, match="more than 0"):
        known_yield(0.0)
    with pytest.raises(ValueError, match="how sure"):
        starts_for(5, known_yield(0.9), 1.0)
    with pytest.raises(ValueError, match="no more are good"):
        learned_yield(3, 2)
    with pytest.raises(ValueError, match="too uncertain"):
        starts_for(22, learned_yield(0, 0), 0.999)

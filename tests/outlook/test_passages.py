"""How soon parts get through a route, by hand and by following parts one by one.

Outside: the sum of a geometric number of equal stays (any textbook of probability); numpy
following 20,000 parts.
"""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.outlook.passage import passages
from ringwright.outlook.stays import Learned, Stay


def learned(stays: list[list[float]], onward: list[list[float]]) -> Learned:
    """Steps with these stays, all of it work, and where their visits went."""
    rows = tuple(Stay(np.zeros(len(one)), np.array(one)) for one in stays)
    return Learned(rows, np.array(onward), np.zeros(0))


def test_two_steps_of_ten_hours_take_twenty() -> None:
    way = passages(learned([[10.0], [10.0]], [[0, 1, 0, 0], [0, 0, 1, 0]]), 60.0, None, 1)

    # Bins of half an hour: bin 39 ends before 20 h, bin 40 does not.
    assert way.fresh[0, 0, 39] == pytest.approx(0.0, abs=1e-6)
    assert way.fresh[0, 0, 40] == pytest.approx(1.0, abs=1e-5)
    assert way.after[0, 0, 20] == pytest.approx(1.0, abs=1e-5)


def test_a_loop_of_rework_is_a_geometric_sum() -> None:
    # Half go out after 6 h, three in ten come again, two in ten are lost.
    way = passages(learned([[6.0]], [[3, 5, 2]]), 60.0, None, 1)

    for times in (1, 2, 3, 7):
        wanted = 0.5 * sum(0.3**n for n in range(times))
        assert way.fresh[0, 0, 12 * times] == pytest.approx(wanted, abs=1e-5)


def test_passages_agree_with_parts_followed_one_by_one() -> None:
    dice = np.random.default_rng(7)
    first, second = dice.gamma(2, 4, 200), dice.gamma(3, 2, 200)
    way = passages(
        learned([list(first), list(second)], [[1, 8, 0, 1], [2, 1, 6, 1]]), 60.0, None, 1
    )

    out = np.full(20_000, np.inf)
    for part in range(len(out)):
        gone_h, step = 0.0, 0
        while step < 2:
            gone_h += dice.choice(second if step else first)
            step = dice.choice(4, p=np.array([[1, 8, 0, 1], [2, 1, 6, 1]])[step] / 10)
        out[part] = gone_h if step == 2 else np.inf

    for hours in (10, 20, 40):
        assert way.fresh[0, 0, 2 * hours] == pytest.approx((out <= hours).mean(), abs=0.02)


def test_few_visits_leave_more_doubt_than_many() -> None:
    def doubt(visits: int) -> float:
        stays = list(np.linspace(1, 50, visits))
        onward = [[0, 0.8 * visits, 0.2 * visits]]
        way = passages(learned([stays], onward), 30.0, np.random.default_rng(1), 64)
        return float(way.fresh[:, 0, -1].std())

    assert doubt(10) > 2 * doubt(100)

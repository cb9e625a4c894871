"""The proof of the largest number of sets, and what one more blade would give."""

from __future__ import annotations

import time

import numpy as np
import pytest

from ringwright.balance.bound import wide_boxes
from ringwright.balance.draw import draw_sets
from ringwright.balance.draw_stock import eligible
from ringwright.balance.limits import Limits
from ringwright.balance.one_more import one_more
from ringwright.balance.pool import Blade, Pool
from ringwright.balance.proof import fits, improve, prove
from ringwright.balance.work import Work
from tests.balance.stocks import most_disjoint, pool_of, stock, work

HARD = Limits(slots=20, frequency_spread_hz=0.8, moment_spread_g_mm=500)


@pytest.mark.parametrize("seed", range(6))
def test_the_programme_agrees_with_trying_everything(seed: int) -> None:
    rng = np.random.default_rng(seed)
    pool = pool_of(zip(rng.integers(0, 14, 12), rng.integers(0, 14, 12), strict=True))
    limits = Limits(slots=3, frequency_spread_hz=5, moment_spread_g_mm=5)
    most = most_disjoint(pool, limits)
    stock_ = eligible(pool, limits)
    boxes = wide_boxes(stock_, limits)
    assert fits(boxes, stock_, 3, most, work()).boxes is not None
    assert fits(boxes, stock_, 3, most + 1, work()).boxes is None


@pytest.mark.slow
def test_a_bound_one_too_high_is_brought_down_by_the_proof() -> None:
    drawn = draw_sets(stock(1), HARD, work(), sets=None)
    assert (len(drawn.sets), drawn.bound.max_sets) == (4, 5)
    heard: list[str] = []
    watched = work(report=lambda _done, what, _best: heard.append(what))
    better = improve(stock(1), HARD, watched, drawn)
    assert better.bound.proved
    assert better.bound.max_sets == len(better.sets) == 4
    assert any("set number 5" in what for what in heard)


def test_a_stopped_proof_keeps_the_bound_unproved() -> None:
    drawn = draw_sets(stock(1), HARD, work(), sets=None)
    stopped = Work(clock=time.perf_counter, stop_asked=lambda: True)
    kept = improve(stock(1), HARD, stopped, drawn)
    assert kept.bound == drawn.bound
    assert not kept.bound.proved


def test_a_bound_that_is_reached_needs_no_programme() -> None:
    limits = Limits(slots=20, frequency_spread_hz=1.5, moment_spread_g_mm=900)
    bound = prove(stock(1), limits, work())
    assert (bound.max_sets, bound.proved) == (7, True)


def test_the_kind_of_blade_that_is_named_gives_the_set_more() -> None:
    limits = Limits(slots=20, frequency_spread_hz=1.0, moment_spread_g_mm=600)
    pool = stock(0)
    drawn = draw_sets(pool, limits, work(), sets=None)
    wants = one_more(pool, limits, drawn)
    assert wants
    for want in wants:
        assert want.moment_g_mm is not None
        assert want.frequency_hz is not None
        assert want.blades == 1
        assert want.sets == len(drawn.sets) + 1
        for corner in (0, 1):
            blade = Blade(
                serial="NEW",
                moment_g_mm=want.moment_g_mm[corner],
                frequency_hz=want.frequency_hz[1 - corner],
            )
            grown = Pool(blades=(*pool.blades, blade))
            assert len(draw_sets(grown, limits, work(), sets=None).sets) == want.sets


def test_without_limits_any_blades_do() -> None:
    pool = stock(1, blades=70)
    drawn = draw_sets(pool, Limits(slots=22), work(), sets=None)
    (want,) = one_more(pool, Limits(slots=22), drawn)
    assert (want.blades, want.sets, want.frequency_hz) == (18, 4, None)

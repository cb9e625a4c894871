"""One set in order: every limit kept, nothing better left for a few blades, the same twice."""

from __future__ import annotations

import cmath
import math
import time
from itertools import permutations
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.balance.exact import listable
from ringwright.balance.feasible import smallest_neighbour, smallest_opposite
from ringwright.balance.limits import Impossible, Limits
from ringwright.balance.order import order_set, sorted_alternating, sorted_pairs
from ringwright.balance.pool import Blade, Pool
from ringwright.balance.ring_rules import Aim, compile_rules
from ringwright.balance.vectors import alternates, broken, measure
from ringwright.balance.work import Work
from ringwright.core.errors import Refused


def some_pool(slots: int, seed: int = 1, *, axial: bool = False, across: float = 0.0) -> Pool:
    """Blades as the benchmark draws them: moments of 120,000 g·mm, 0.4 %."""
    rng = np.random.default_rng(seed)
    return Pool(
        blades=tuple(
            Blade(
                serial=f"B{at}",
                moment_g_mm=float(rng.normal(120_000.0, 480.0)),
                tangential_g_mm=float(rng.normal(0.0, across)),
                axial_g_mm2=float(rng.normal(5e6, 2e4)) if axial else None,
                frequency_hz=float(rng.normal(118.0, 1.0)),
            )
            for at in range(slots)
        )
    )


def quick(**more: Any) -> Work:
    """Little work, by a clock that nobody looks at."""
    return Work(**{"effort": 1, "clock": time.perf_counter, **more})


def left(pool: Pool, limits: Limits, **more: Any) -> float:
    """The residual of the order found; every limit is kept and every blade placed."""
    order = order_set(pool, limits, quick(), **more)
    assert sorted(order.tolist()) == list(range(limits.slots))
    assert broken(pool, order, limits) == ()
    return measure(pool, order, limits.disc_g_mm).residual_g_mm


def least_of_all(pool: Pool, limits: Limits) -> float:
    """The least residual of all orders that keep the limits, listed one by one."""
    count = limits.slots
    places = [cmath.exp(2j * math.pi * k / count) for k in range(count)]
    moments = pool.moments.tolist()
    found = math.inf
    for order in permutations(range(count)):
        total = sum(moments[b] * p for b, p in zip(order, places, strict=True))
        size = abs(total + limits.disc_g_mm)
        if size < found and not broken(pool, order, limits):
            found = size
    return found


@pytest.mark.parametrize(
    "limits",
    [
        Limits(slots=2),
        Limits(slots=2, disc_g_mm=50 + 7j),
        Limits(slots=3, locks={2: "B0"}),
        Limits(slots=5),
        Limits(slots=6, alternate=True),
        Limits(slots=6, neighbour_g_mm=2_000.0),
        Limits(slots=6, opposite_g_mm=1_500.0, disc_g_mm=200j),
        Limits(slots=7, disc_g_mm=1_000 - 300j, locks={3: "B1"}),
        Limits(slots=7, neighbour_g_mm=2_000.0),
    ],
)
def test_for_a_few_blades_no_order_is_better(limits: Limits) -> None:
    pool = some_pool(limits.slots, seed=3, across=60.0)

    assert left(pool, limits) == pytest.approx(least_of_all(pool, limits), abs=1e-6)


def test_all_locked_but_two_leaves_the_better_of_two_orders() -> None:
    pool = some_pool(20)
    locks = {slot: f"B{slot - 1}" for slot in range(1, 21) if slot not in (4, 15)}
    ways = [list(range(20)), list(range(20))]
    ways[1][3], ways[1][14] = 14, 3

    found = left(pool, Limits(slots=20, locks=locks))

    assert found == min(measure(pool, way).residual_g_mm for way in ways)


def test_all_locked_leaves_the_order_that_is_locked() -> None:
    pool = some_pool(12)
    locks = {slot + 1: f"B{(slot * 5) % 12}" for slot in range(12)}

    order = order_set(pool, Limits(slots=12, locks=locks), quick())

    assert order.tolist() == [(slot * 5) % 12 for slot in range(12)]


def test_blades_all_alike_leave_nothing() -> None:
    blades = tuple(Blade(serial=f"B{k}", moment_g_mm=120_000.0) for k in range(20))

    assert left(Pool(blades=blades), Limits(slots=20)) == 0.0
    assert left(Pool(blades=blades), Limits(slots=20, disc_g_mm=3 + 4j)) == 5.0


def test_blades_of_two_weights_cancel() -> None:
    blades = tuple(Blade(serial=f"B{k}", moment_g_mm=100.0 + k % 2) for k in range(24))

    assert left(Pool(blades=blades), Limits(slots=24)) < 1e-9


@pytest.mark.parametrize("slots", [13, 20, 21, 48, 400])
def test_a_free_ring_is_brought_below_what_a_scale_can_tell(slots: int) -> None:
    assert left(some_pool(slots), Limits(slots=slots)) < 1.0


@pytest.mark.parametrize("slots", [20, 96])
@pytest.mark.parametrize("pattern", [sorted_alternating, sorted_pairs])
def test_the_search_is_a_thousand_times_better_than_an_order_by_hand(
    slots: int, pattern: Any
) -> None:
    pool = some_pool(slots, seed=8)
    limits = Limits(slots=slots)
    by_hand = measure(pool, pattern(pool, limits)).residual_g_mm

    order = order_set(pool, limits, quick(effort=3))

    assert measure(pool, order).residual_g_mm < by_hand / 1_000.0


def test_a_huge_disc_is_met_by_the_heaviest_blades_opposite_it() -> None:
    pool = some_pool(30)
    order = order_set(pool, Limits(slots=30, disc_g_mm=5e6 + 0j), quick())
    moments = pool.moment_g_mm[order]
    towards = np.cos(2 * np.pi * np.arange(30) / 30)
    # The rearrangement inequality: sorted one against the other no sum is smaller.
    least = float(np.sort(pool.moment_g_mm) @ -np.sort(-towards))

    assert float(moments @ towards) == pytest.approx(least, abs=0.5)


def test_with_axial_moments_static_and_couple_fall_together() -> None:
    pool = some_pool(20, axial=True)
    found = measure(pool, order_set(pool, Limits(slots=20), quick()))
    alone = some_pool(20)
    of_static = measure(pool, order_set(alone, Limits(slots=20), quick()))

    assert found.residual_g_mm < 30.0
    assert found.couple_g_mm2 is not None
    assert of_static.couple_g_mm2 is not None
    assert found.couple_g_mm2 < of_static.couple_g_mm2 / 20.0


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("slots", [20, 96])
def test_the_stop_rule_leaves_opposite_blades_as_alike_as_can_be(slots: int, seed: int) -> None:
    pool = some_pool(slots, seed)
    stop = 0.25 * 2.0 * math.sqrt(slots)

    order = order_set(pool, Limits(slots=slots), quick(effort=3), stop_at_g_mm=stop)

    found = measure(pool, order)
    assert found.residual_g_mm <= stop
    assert found.opposite_max_g_mm == smallest_opposite(pool.moment_g_mm)


def test_the_stop_rule_goes_on_to_the_couple() -> None:
    pool = some_pool(96, axial=True)
    stop = 0.25 * 2.0 * math.sqrt(96)

    order = order_set(
        pool, Limits(slots=96), quick(effort=3), stop_at_g_mm=stop, couple_u_g_mm2=800.0
    )

    found = measure(pool, order)
    assert found.residual_g_mm <= stop
    assert found.couple_g_mm2 is not None
    assert found.couple_g_mm2 <= 200.0


def test_the_same_question_has_the_same_answer() -> None:
    pool = some_pool(20)
    near = 1.5 * smallest_neighbour(pool.moment_g_mm)
    for limits in (Limits(slots=20), Limits(slots=20, neighbour_g_mm=near)):
        first = order_set(pool, limits, quick(seed=7))
        again = order_set(pool, limits, quick(seed=7))

        assert first.tolist() == again.tolist()


def test_more_effort_is_never_worse_here() -> None:
    pool = some_pool(24, seed=5)
    sizes = [
        measure(pool, order_set(pool, Limits(slots=24), quick(effort=effort))).residual_g_mm
        for effort in (1, 3)
    ]

    assert sizes[1] <= sizes[0]


def test_stopping_keeps_a_legal_order() -> None:
    pool = some_pool(60)
    limits = Limits(slots=60, neighbour_g_mm=2 * smallest_neighbour(pool.moment_g_mm))
    work = quick(effort=5, stop_asked=lambda: True)

    order = order_set(pool, limits, work)

    assert broken(pool, order, limits) == ()
    assert work.stopped_early


def test_progress_is_told_and_ends_at_most_at_all() -> None:
    told: list[float] = []
    work = quick(effort=2, report=lambda share, _what, _best: told.append(share))

    order_set(some_pool(40), Limits(slots=40), work)

    assert told == sorted(told)
    assert told[-1] <= 1.0


def test_sorted_by_hand_keeps_locks_and_alternation() -> None:
    pool = some_pool(12)
    frequencies = pool.frequency_hz
    assert frequencies is not None
    high = int(np.argmax(frequencies))
    limits = Limits(slots=12, alternate=True, locks={2: f"B{high}"})

    order = sorted_alternating(pool, limits)

    assert pool.blades[order[1]].serial == f"B{high}"
    assert alternates(frequencies[order])


def test_an_odd_ring_has_no_sorted_pairs() -> None:
    with pytest.raises(Impossible):
        sorted_pairs(some_pool(7), Limits(slots=7))


def test_a_ring_takes_as_many_blades_as_slots() -> None:
    with pytest.raises(Refused, match="takes as many"):
        order_set(some_pool(7), Limits(slots=8), quick())


def test_listing_all_orders_is_for_few_free_slots() -> None:
    assert listable(compile_rules(some_pool(10), Limits(slots=10), Aim()), 1)
    assert not listable(compile_rules(some_pool(12), Limits(slots=12), Aim()), 5)


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_limits_are_never_broken(data: st.DataObject) -> None:
    slots = data.draw(st.integers(2, 26))
    pool = some_pool(slots, data.draw(st.integers(0, 10_000)), across=40.0)
    rng = np.random.default_rng(data.draw(st.integers(0, 10_000)))
    even = slots % 2 == 0
    locked = data.draw(st.integers(0, slots))
    near, across = data.draw(st.floats(0.9, 4.0)), data.draw(st.floats(0.9, 4.0))
    limits = Limits(
        slots=slots,
        neighbour_g_mm=data.draw(st.sampled_from([None, near]))
        and near * smallest_neighbour(pool.moment_g_mm),
        opposite_g_mm=across * smallest_opposite(pool.moment_g_mm)
        if even and data.draw(st.booleans())
        else None,
        alternate=even and data.draw(st.booleans()),
        disc_g_mm=complex(*rng.normal(0.0, 10.0 ** data.draw(st.integers(0, 7)), 2)),
        locks={
            int(slot) + 1: f"B{blade}"
            for slot, blade in zip(
                rng.permutation(slots)[:locked], rng.permutation(slots), strict=False
            )
        }
        if data.draw(st.booleans())
        else {},
    )
    stop = data.draw(st.sampled_from([None, 2.0]))
    try:
        order = order_set(pool, limits, quick(), stop_at_g_mm=stop)
    except Refused:
        return
    assert broken(pool, order, limits) == ()

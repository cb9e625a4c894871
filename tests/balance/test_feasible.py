"""Every refusal of a limit is checked against all orders, one by one."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import permutations
from typing import Any

import numpy as np
import pytest

from ringwright.balance.feasible import (
    find_seats,
    least,
    orderable,
    smallest_neighbour,
    smallest_opposite,
    with_across,
    with_near,
)
from ringwright.balance.limits import Impossible, Limits
from ringwright.balance.order import order_set
from ringwright.balance.pool import Blade, Ints, Pool
from ringwright.balance.ring_rules import Aim, compile_rules
from ringwright.balance.vectors import broken, neighbour_differences, opposite_differences
from ringwright.balance.work import Work
from ringwright.core.errors import Refused


def some_pool(rng: np.random.Generator, slots: int, *, tied: bool = False) -> Pool:
    """Blades drawn at random; `tied`: few values, most of them several times."""
    moments = rng.integers(0, 5, slots) * 10.0 if tied else rng.normal(9000.0, 45.0, slots)
    return Pool(
        blades=tuple(
            Blade(serial=f"B{at}", moment_g_mm=float(moment), frequency_hz=float(frequency))
            for at, (moment, frequency) in enumerate(
                zip(moments, rng.normal(120.0, 1.0, slots), strict=True)
            )
        )
    )


def with_limit(slots: int, name: str, value: float) -> Limits:
    """One limit by its name."""
    limit: dict[str, Any] = {name: value}
    return Limits(slots=slots, **limit)


def all_orders(slots: int) -> Ints:
    """Every order of a few blades."""
    return np.array(list(permutations(range(slots))), dtype=np.intp)


def some_locks(rng: np.random.Generator, pool: Pool, count: int) -> dict[int, str]:
    """A few blades locked anywhere."""
    slots, blades = (rng.permutation(len(pool))[:count] for _ in range(2))
    return {int(s) + 1: f"B{b}" for s, b in zip(slots, blades, strict=True)}


@pytest.mark.parametrize("seed", range(60))
def test_the_smallest_feasible_limit_is_that_of_all_orders_listed(seed: int) -> None:
    rng = np.random.default_rng(seed)
    slots = int(rng.integers(2, 8))
    pool = some_pool(rng, slots, tied=seed % 3 == 0)
    alternate = seed % 4 == 1 and slots % 2 == 0
    locks = some_locks(rng, pool, int(rng.integers(0, 3)) if not alternate else 0)
    rules = compile_rules(pool, Limits(slots=slots, alternate=alternate, locks=locks), Aim())
    orders = all_orders(slots)
    orders = orders[rules.legal(orders)]
    near = min(float(neighbour_differences(rules.radial[o]).max()) for o in orders)

    found = least(rules, with_near)

    assert (found.value, found.proved) == (near, True)
    if slots % 2 == 0:
        widths = [float(opposite_differences(rules.radial[o]).max()) for o in orders]
        assert least(rules, with_across).value == min(widths)


@pytest.mark.parametrize("seed", range(40))
def test_limits_together_are_decided_as_all_orders_listed_decide_them(seed: int) -> None:
    rng = np.random.default_rng(1000 + seed)
    slots = int(rng.choice([4, 6, 8], p=[0.2, 0.5, 0.3]))
    pool = some_pool(rng, slots, tied=seed % 3 == 0)
    spread = float(np.ptp(pool.moment_g_mm))
    limits = Limits(
        slots=slots,
        neighbour_g_mm=spread * float(rng.uniform(0.4, 0.9)),
        opposite_g_mm=spread * float(rng.uniform(0.2, 0.7)),
        alternate=seed % 4 == 1,
        locks=some_locks(rng, pool, int(rng.integers(0, 3)) if seed % 4 != 1 else 0),
    )
    rules = compile_rules(pool, limits, Aim())

    seats = find_seats(rules)

    assert seats.decided
    assert (seats.order is not None) == bool(rules.legal(all_orders(slots)).any())
    assert seats.order is None or broken(pool, seats.order, limits) == ()


def test_on_a_free_ring_sorted_moments_tell_the_smallest_limits() -> None:
    moments = np.array([5.0, 1.0, 2.0, 9.0, 4.0, 7.0])

    assert smallest_neighbour(moments) == 4.0
    assert smallest_opposite(moments) == 2.0
    assert smallest_neighbour(np.array([3.0, 8.0])) == 5.0


@pytest.mark.parametrize("name", ["neighbour_g_mm", "opposite_g_mm"])
@pytest.mark.parametrize("slots", [2, 6, 20, 96])
def test_a_limit_at_the_smallest_value_is_kept_and_a_hair_below_refused(
    name: str, slots: int
) -> None:
    pool = some_pool(np.random.default_rng(slots), slots)
    smallest = {"neighbour_g_mm": smallest_neighbour, "opposite_g_mm": smallest_opposite}
    value = smallest[name](pool.moment_g_mm)
    limits = with_limit(slots, name, value)
    work = Work(effort=1, clock=time.perf_counter)

    assert broken(pool, order_set(pool, limits, work), limits) == ()
    below = with_limit(slots, name, float(np.nextafter(value, 0.0)))
    with pytest.raises(Impossible) as refusal:
        order_set(pool, below, work)
    assert refusal.value.smallest == value
    assert not orderable(pool, below)


def test_a_refused_combination_names_a_value_that_can_be_kept() -> None:
    pool = some_pool(np.random.default_rng(5), 20)
    across = smallest_opposite(pool.moment_g_mm)
    near = smallest_neighbour(pool.moment_g_mm)
    limits = Limits(slots=20, neighbour_g_mm=near, opposite_g_mm=across)
    work = Work(effort=1, clock=time.perf_counter)

    with pytest.raises(Impossible) as refusal:
        order_set(pool, limits, work)

    assert refusal.value.smallest is not None
    assert refusal.value.smallest > near
    kept = replace(limits, neighbour_g_mm=refusal.value.smallest)
    assert broken(pool, order_set(pool, kept, work), kept) == ()


def test_a_spread_names_the_set_its_own() -> None:
    pool = some_pool(np.random.default_rng(6), 10)
    spread = float(np.ptp(pool.moment_g_mm))
    work = Work(effort=1, clock=time.perf_counter)

    with pytest.raises(Impossible) as refusal:
        order_set(pool, Limits(slots=10, moment_spread_g_mm=spread / 2), work)

    assert refusal.value.smallest == spread


def test_frequencies_on_the_median_cannot_alternate() -> None:
    blades = [Blade(serial=f"B{k}", moment_g_mm=1.0 * k, frequency_hz=100.0) for k in range(4)]
    work = Work(effort=1, clock=time.perf_counter)

    with pytest.raises(Impossible, match="median"):
        order_set(Pool(blades=tuple(blades)), Limits(slots=4, alternate=True), work)


def test_locks_that_stand_against_alternation_are_refused() -> None:
    pool = some_pool(np.random.default_rng(7), 8)
    high = np.argsort(-np.array([b.frequency_hz for b in pool.blades]))
    locks = {1: f"B{high[0]}", 2: f"B{high[1]}"}

    with pytest.raises(Impossible, match="locked"):
        order_set(
            pool,
            Limits(slots=8, alternate=True, locks=locks),
            Work(effort=1, clock=time.perf_counter),
        )


def test_a_blade_without_the_frequency_that_a_limit_asks_for_is_named() -> None:
    blades = (
        Blade(serial="B1", moment_g_mm=1.0, frequency_hz=1.0),
        Blade(serial="B2", moment_g_mm=1.0),
    )

    with pytest.raises(Refused, match="B2 has no frequency"):
        order_set(
            Pool(blades=blades),
            Limits(slots=2, frequency_spread_hz=1.0),
            Work(effort=1, clock=time.perf_counter),
        )

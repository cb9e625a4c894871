"""Ordering one set against others: every order listed by itertools, and OR-tools CP-SAT."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from ortools.sat.python import cp_model

from ringwright.balance.limits import Limits
from ringwright.balance.order import order_set
from ringwright.balance.pool import Floats, Pool
from ringwright.balance.vectors import measure
from tests.balance.pools import fan, work


def least_of_all(pool: Pool) -> float:
    """The least residual of every order; turned rings are one, so the first blade stays."""
    count = len(pool)
    held = pool.moment_g_mm - pool.moment_g_mm.mean()
    slots = np.exp(2j * np.pi * np.arange(count) / count)
    orders = np.array([(0, *rest) for rest in permutations(range(1, count))])
    return float(np.abs(held[orders] @ slots).min())


@pytest.mark.parametrize("count", [5, 8, 9])
@pytest.mark.parametrize("seed", [1, 2])
def test_no_order_leaves_less_than_the_one_found(count: int, seed: int) -> None:
    pool = fan(count, seed)

    order = order_set(pool, Limits(slots=count), work())

    assert measure(pool, order).residual_g_mm == pytest.approx(least_of_all(pool), abs=1e-6)


def by_cp_sat(moments: Floats, seconds: float) -> list[int]:
    """The order CP-SAT finds: the larger component least, in tenths of a g·mm."""
    count = len(moments)
    held = np.round(10 * (moments - moments.mean())).astype(int)
    turn = np.exp(2j * np.pi * np.arange(count) / count)
    model = cp_model.CpModel()
    stands = [[model.new_bool_var(f"{b} {s}") for s in range(count)] for b in range(count)]
    for place in range(count):
        model.add_exactly_one(stands[place])
        model.add_exactly_one(row[place] for row in stands)
    worst = model.new_int_var(0, int(np.abs(held).sum()) * 10**6, "worst")
    for part in (turn.real, turn.imag):
        share = np.round(1e6 * part).astype(int)
        total = sum(
            int(held[b]) * int(share[s]) * stands[b][s]
            for b in range(count)
            for s in range(count)
        )
        model.add(total <= worst)
        model.add(-total <= worst)
    model.minimize(worst)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 2
    assert solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return [
        next(blade for blade in range(count) if solver.value(stands[blade][slot]))
        for slot in range(count)
    ]


@pytest.mark.parametrize("seed", [1, 2])
def test_ten_blades_are_ordered_at_least_as_well_as_by_cp_sat(seed: int) -> None:
    pool = fan(10, seed)
    theirs = measure(pool, by_cp_sat(pool.moment_g_mm, 4.0))

    ours = measure(pool, order_set(pool, Limits(slots=10), work()))

    assert ours.residual_g_mm <= theirs.residual_g_mm + 1e-6

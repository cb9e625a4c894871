"""Mending a ring: the table against trying everything, within the limits."""

from __future__ import annotations

from itertools import combinations, product

import numpy as np
import pytest

from ringwright.balance.limits import Limits
from ringwright.balance.order import order_set
from ringwright.balance.pool import Pool
from ringwright.balance.repair import Damage, Move, repair
from ringwright.balance.vectors import broken, phasors, residual
from ringwright.core.errors import Refused
from tests.balance.pools import fan, pool_of, work


def ordered(pool: Pool, slots: int, limits: Limits | None = None) -> tuple[int, ...]:
    """A ring of the pool's first blades, well ordered."""
    rules = limits or Limits(slots=slots)
    return tuple(order_set(pool.take(range(slots)), rules, work(effort=1)).tolist())


def row(rows: tuple[Move, ...], exchanges: int, *, opposite: bool = False) -> Move:
    return next(r for r in rows if (r.opposite, len(r.exchanges)) == (opposite, exchanges))


def test_a_spare_in_a_lost_blade_s_place_leaves_the_difference_of_their_moments() -> None:
    """A ring that cancelled leaves (spare - lost) at that slot: the sum of vectors."""
    pool = pool_of([100.0, 104.0, 100.0, 104.0, 107.0])

    rows = repair(pool, Damage(ring=(0, 1, 2, 3), lost=(1,)), Limits(slots=4), work())

    found = row(rows, 0)
    assert found.order == (0, 4, 2, 3)
    assert found.measured.residual == pytest.approx(3.0 * phasors(4)[1])
    assert found.replaced == ((2, 1, 4),)


@pytest.mark.parametrize("seed", range(5))
def test_one_lost_blade_is_mended_as_trying_everything_would(seed: int) -> None:
    pool = fan(14, seed)
    ring = ordered(pool, 8)

    rows = repair(
        pool, Damage(ring=ring, lost=(ring[3],)), Limits(slots=8), work(), opposite_too=False
    )

    nothing, one = [], []
    for spare in range(8, 14):
        order = [spare if place == ring[3] else place for place in ring]
        nothing.append(abs(residual(pool, order)))
        for a, b in combinations(range(8), 2):
            swapped = list(order)
            swapped[a], swapped[b] = swapped[b], swapped[a]
            one.append(abs(residual(pool, swapped)))
        for slot, other in product(range(8), range(8, 14)):
            if other not in order and order[slot] != spare:
                taken = list(order)
                taken[slot] = other
                one.append(abs(residual(pool, taken)))
    assert row(rows, 0).measured.residual_g_mm == pytest.approx(min(nothing))
    assert row(rows, 1).measured.residual_g_mm == pytest.approx(min(min(one), min(nothing)))


def test_each_row_of_the_table_does_what_it_says_and_leaves_less() -> None:
    pool = fan(40, 7)
    ring = ordered(pool, 20)

    rows = repair(pool, Damage(ring=ring, lost=(ring[4],)), Limits(slots=20), work())

    for found in rows:
        order = list(ring)
        for slot, out, spare in found.replaced:
            assert order[slot - 1] == out
            order[slot - 1] = spare
        for done in found.exchanges:
            a, b = done.slot - 1, (done.other_slot or 0) - 1
            if done.spare is None:
                order[a], order[b] = order[b], order[a]
            else:
                order[a] = done.spare
        assert tuple(order) == found.order
        assert not set(found.order) & {ring[4]}
    plain = [r.measured.residual_g_mm for r in rows if not r.opposite]
    assert plain == sorted(plain, reverse=True)
    assert [slot for slot, _, _ in row(rows, 0, opposite=True).replaced] == [5, 15]


@pytest.mark.parametrize("lost", [1, 2, 3])
def test_every_row_keeps_the_limits(lost: int) -> None:
    limits = Limits(slots=12, moment_spread_g_mm=1_800.0, opposite_g_mm=700.0)
    pool = fan(40, 3)
    inside = np.argsort(np.abs(pool.moment_g_mm - np.median(pool.moment_g_mm)))
    pool = pool.take(inside)
    ring = ordered(pool, 12, limits)

    rows = repair(pool, Damage(ring=ring, lost=ring[:lost]), limits, work())

    assert rows
    for found in rows:
        chosen = pool.take(found.order)
        assert broken(chosen, range(12), limits) == ()


def test_a_locked_slot_stays_and_its_blade_cannot_be_lost() -> None:
    pool = fan(12, 5)
    ring = ordered(pool, 8)
    limits = Limits(slots=8, locks={1: pool.blades[ring[0]].serial})

    for found in repair(pool, Damage(ring=ring, lost=(ring[3],)), limits, work()):
        assert found.order[0] == ring[0]
    with pytest.raises(Refused, match="is lost and locked"):
        repair(pool, Damage(ring=ring, lost=(ring[0],)), limits, work())


@pytest.mark.parametrize(
    ("lost", "exchanges", "why"),
    [((), 0, "which blade is lost"), ((9,), 0, "stands in no slot"), ((0,), 3, "0 to 2")],
)
def test_a_question_that_makes_no_sense_is_refused(
    lost: tuple[int, ...], exchanges: int, why: str
) -> None:
    with pytest.raises(Refused, match=why):
        repair(
            fan(10),
            Damage(ring=tuple(range(8)), lost=lost),
            Limits(slots=8),
            work(),
            exchanges=exchanges,
        )


def test_spares_that_break_every_limit_are_refused() -> None:
    pool = pool_of([100.0, 100.0, 100.0, 100.0, 300.0])
    limits = Limits(slots=4, moment_spread_g_mm=10.0)

    with pytest.raises(Refused, match="none of the 1 spares"):
        repair(pool, Damage(ring=(0, 1, 2, 3), lost=(0,)), limits, work())


def test_the_same_question_has_the_same_table() -> None:
    pool = fan(30, 2)
    damage = Damage(ring=ordered(pool, 16), lost=(0, 1))

    assert repair(pool, damage, Limits(slots=16), work()) == repair(
        pool, damage, Limits(slots=16), work()
    )

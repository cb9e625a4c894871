"""Order one set: which blade stands in which slot.

The free slots are split in two sides; many arrangements of each give two clouds of vectors, and
the couple of points that cancel best is looked up in a grid (`rounds`, `clouds`). Limits are
kept by construction: a side's groups of slots only take ways that keep them (`ways`), and the
search begins from orders that keep them (`starts`, `beam`). Few free slots are listed in full
(`exact`); what cannot be kept is proved so (`feasible`, `deadlines`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ringwright.balance.descent import even_out
from ringwright.balance.exact import best_of_all, listable
from ringwright.balance.feasible import check_set, first_order, refuse, smallest_opposite
from ringwright.balance.limits import Impossible, Limits
from ringwright.balance.pool import Ints, Pool
from ringwright.balance.ring_rules import Aim, Rules, compile_rules
from ringwright.balance.search import BUDGET, search
from ringwright.balance.starts import dealt, high_slots
from ringwright.balance.work import Work

WIDER = (1.0, 1.2, 1.5, 2.0, 3.0, 5.0)
"""Limits on the difference of opposite blades to try, in parts of the smallest possible."""
STEPS = 60


def order_set(
    pool: Pool,
    limits: Limits,
    work: Work,
    *,
    stop_at_g_mm: float | None = None,
    couple_u_g_mm2: float | None = None,
) -> Ints:
    """Place in the pool for slot 1 … N: the best order found, and it keeps every limit.

    With `stop_at_g_mm` a static residual of that size is as good as none, and what freedom is
    left goes to the couple, then to the differences of opposite blades; `couple_u_g_mm2` is the
    uncertainty of the couple, and a quarter of it is as good as none (else a thousandth of
    what blades dealt at random leave). Raises Impossible with the smallest feasible value where
    a limit is proved impossible; else Refused.
    """
    check_set(pool, limits)
    enough = None if couple_u_g_mm2 is None else 0.25 * couple_u_g_mm2
    aim = Aim(stop_at_g_mm=stop_at_g_mm, couple_enough_g_mm2=enough)
    rules = compile_rules(pool, limits, aim)
    if listable(rules, work.effort):
        best = best_of_all(rules, work)
        if best is None:
            refuse(rules)
            raise AssertionError("refuse always raises")
        return best
    rng = np.random.default_rng(work.seed)
    if aim.spends_on_pairs and limits.slots % 2 == 0:
        return even_out(rules, _with_like_pairs(rules, work, rng), STEPS)
    return search(rules, work, rng, BUDGET[work.effort])


def _with_like_pairs(rules: Rules, work: Work, rng: np.random.Generator) -> Ints:
    """Keep opposite blades as alike as can be while the residual comes down to enough.

    A limit on their difference is tried from the smallest that sorted pairs keep, wider and
    wider, until what is left is enough.
    """
    whole = BUDGET[work.effort]
    found: list[Ints] = []
    for wider in WIDER:
        limit = smallest_opposite(rules.radial) * wider
        if rules.across is not None and limit >= rules.across:
            break
        tight = replace(rules, across=limit)
        if first_order(tight) is None:
            continue
        found.append(search(tight, work, rng, whole // (8 if len(rules.loads) > 1 else 20)))
        best = min(found, key=rules.key)
        if rules.done(best) or work.over():
            return best
    found.append(search(rules, work, rng, whole))
    return min(found, key=rules.key)


def sorted_alternating(pool: Pool, limits: Limits) -> Ints:
    """The order a planner makes by hand: sorted, heavy and light in turn; locks kept.

    Where frequencies must alternate, sorted within the high and within the low.
    """
    rules = compile_rules(pool, limits, Aim())
    slots = np.arange(limits.slots)
    key = np.where(slots % 2 == 0, slots // 2, limits.slots - slots // 2).astype(np.float64)
    return dealt(rules, high_slots(rules)[0], key, -rules.radial)


def sorted_pairs(pool: Pool, limits: Limits) -> Ints:
    """The other order made by hand: sorted, each two that follow opposite each other."""
    if limits.slots % 2:
        raise Impossible(f"a ring of {limits.slots} slots has no opposite slots")
    rules = compile_rules(pool, limits, Aim())
    key = (np.arange(limits.slots) % (limits.slots // 2)).astype(np.float64)
    return dealt(rules, high_slots(rules)[0], key, -rules.radial)

"""Order one set: which blade stands in which slot."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import count, islice

import numpy as np

from ringwright.balance.beam import many_orders
from ringwright.balance.descent import descend, even_out, turn
from ringwright.balance.exact import best_of_all, listable
from ringwright.balance.feasible import check_set, find_seats, refuse
from ringwright.balance.limits import Impossible, Limits
from ringwright.balance.pool import Ints, Pool
from ringwright.balance.ring_rules import Aim, Rules, compile_rules
from ringwright.balance.rounds import Plan, play
from ringwright.balance.starts import (
    against,
    dealt,
    high_slots,
    hill_orders,
    pair_order,
    random_order,
    spread_pairs,
)
from ringwright.balance.ways import Unit
from ringwright.balance.work import Work

__all__ = ["order_set", "sorted_alternating", "sorted_pairs"]

POINTS = {1: 12_000, 2: 50_000, 3: 250_000, 4: 600_000, 5: 1_500_000}
"""Points of one side's cloud in a full round, by effort."""
BUDGET = {1: 200_000, 2: 800_000, 3: 3_000_000, 4: 20_000_000, 5: 120_000_000}
"""Points listed in all; a round costs some thousands beside its points."""
ROUND_COST, BOUND_COST = 15_000, 6
"""A point that rules bind costs as much as several free ones."""
STARTS = {1: 2, 2: 4, 3: 6, 4: 12, 5: 24}


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
    uncertainty of the couple, and a quarter of it is as good as none. Raises Impossible with
    the smallest feasible value where a limit is proved impossible; else Refused.
    """
    check_set(pool, limits)
    enough = None if couple_u_g_mm2 is None else 0.25 * couple_u_g_mm2
    rules = compile_rules(
        pool, limits, Aim(stop_at_g_mm=stop_at_g_mm, couple_enough_g_mm2=enough)
    )
    if listable(rules):
        best = best_of_all(rules, work)
        if best is None:
            refuse(rules)
            raise AssertionError("refuse always raises")
        return best
    rng = np.random.default_rng(work.seed)
    starts = _begin(rules, work, rng)
    return _finish(rules, _Search(rules=rules, work=work, rng=rng, best=starts[0]).run(starts))


def _begin(rules: Rules, work: Work, rng: np.random.Generator) -> list[Ints]:
    """Legal orders to search from, the best first."""
    orders = list(_starts(rules, work, rng))
    if not orders:
        seated = find_seats(rules)
        if seated.order is None:
            refuse(rules)
            raise AssertionError("refuse always raises")
        orders = [seated.order]
    orders = [turn(rules, order) for order in orders]
    if not rules.aim.spends_on_pairs or rules.bound:
        orders = [descend(rules, order, 12) for order in orders]
    return sorted(orders, key=lambda order: float(rules.score(rules.left(order))))


def _starts(rules: Rules, work: Work, rng: np.random.Generator) -> Iterator[Ints]:
    """Legal orders of different kinds."""
    if rules.bound:
        yield from islice(hill_orders(rules), STARTS[work.effort])
        orders = many_orders(rules, max(20, 8_000 // rules.slots), rng)
        if len(orders):
            left = rules.start[:, None] + rules.loads[:, orders] @ rules.phasors
            best = np.argsort(rules.score(left), kind="stable")
            yield from orders[best[: STARTS[work.effort]]]
        pairs = pair_order(rules, rng)
        if rules.near is None and rules.keeps(pairs):
            yield pairs
        return
    if rules.aim.spends_on_pairs and rules.slots % 2 == 0:
        yield spread_pairs(rules)
        return
    yield random_order(rules, rng)
    if rules.start.any():
        yield against(rules, rng)


def _finish(rules: Rules, order: Ints) -> Ints:
    """Spend freedom that is left on the differences of opposite blades."""
    return even_out(rules, order, 60) if rules.aim.spends_on_pairs else order


@dataclass(kw_only=True)
class _Search:
    """Rounds from one start until the work is done."""

    rules: Rules
    work: Work
    rng: np.random.Generator
    best: Ints
    listed: int = field(default=0)

    def run(self, starts: list[Ints]) -> Ints:
        """The best order; what it leaves only ever falls.

        Where rules bind, no walk leads from every order to every other: half of the work goes
        to the starts in turn, the other half to where the best was found. Where opposite
        blades count, half of the work only moves their sorted pairs about.
        """
        rules, budget = self.rules, BUDGET[self.work.effort]
        plans = self._plans()
        if len(starts) > 1:
            for number, start in enumerate(starts, 1):
                self.walk(start, plans, budget * number // (2 * len(starts)))
        elif rules.aim.spends_on_pairs and not rules.bound and len(self._double) > 1:
            apart = rules.alternate
            self.walk(
                starts[0], [Plan(units=self._double, by="any", class_first=apart)], budget // 2
            )
            static = float(np.abs(rules.left(self.best))[0])
            if static <= rules.enough[0] and rules.aim.couple_enough_g_mm2 is None:
                return self.best
        self.walk(self.best, plans, budget)
        return self.best

    def walk(self, at: Ints, plans: list[Plan], budget: int) -> None:
        """Rounds from one start, each from an order about as good as the one before."""
        rules, most = self.rules, POINTS[self.work.effort]
        points = min(12_000, most)
        best = rules.key(self.best)
        for number in count():
            if self.listed >= budget or rules.done(self.best) or self.work.over():
                break
            plan = replace(plans[number % len(plans)], points=points)
            played = play(rules, at, plan, self.rng)
            at = played.next
            each = len(rules.loads) * (BOUND_COST if rules.bound else 1)
            self.listed += each * played.points + ROUND_COST
            key = rules.key(played.best)
            if key < best and rules.keeps(played.best):
                self.best, best = played.best, key
            points = min(points * 3, most)
            self.work.report(min(self.listed / budget, 1.0), "ordering", self.best)

    @cached_property
    def _single(self) -> tuple[Unit, ...]:
        """Free slots, one by one."""
        return tuple((int(slot),) for slot in self.rules.free)

    @cached_property
    def _double(self) -> tuple[Unit, ...]:
        """Diameters free at both ends; none on an odd ring."""
        half, free = self.rules.slots // 2, set(self.rules.free.tolist())
        if self.rules.slots % 2:
            return ()
        return tuple((slot, slot + half) for slot in range(half) if {slot, slot + half} <= free)

    def _plans(self) -> list[Plan]:
        """Mixes to take in turn."""
        rules, apart = self.rules, self.rules.alternate
        single = Plan(units=self._single, by="any", class_first=apart)
        double = Plan(units=self._double, by="any", class_first=apart)
        paired = rules.across is not None and len(self._double) > 1
        beside, alike = (
            replace(single, by="beside", class_first=False),
            replace(single, by="alike"),
        )
        if rules.near is not None:
            plans = [beside, replace(single, by="every other"), beside, alike]
            if paired:
                plans += [replace(double, by="beside", class_first=False)]
                plans += [replace(double, by="alike")]
            return plans
        if paired:
            return [double, replace(double, by="alike"), alike]
        return [single]


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

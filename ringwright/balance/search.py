"""The search for an order: legal starts, then rounds of matching clouds from each of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import count, islice

import numpy as np

from ringwright.balance.beam import many_orders
from ringwright.balance.descent import descend, turn
from ringwright.balance.feasible import find_seats, refuse
from ringwright.balance.pool import Ints
from ringwright.balance.ring_rules import Rules
from ringwright.balance.rounds import Plan, Played, play
from ringwright.balance.starts import (
    against,
    hill_orders,
    pair_order,
    random_order,
    spread_pairs,
    tipped_orders,
)
from ringwright.balance.ways import Unit
from ringwright.balance.work import Work

POINTS = {1: 30_000, 2: 150_000, 3: 600_000, 4: 1_000_000, 5: 2_000_000}
"""Points of one side's cloud in a full round, by effort."""
BUDGET = {1: 200_000, 2: 800_000, 3: 2_200_000, 4: 12_000_000, 5: 60_000_000}
"""Points listed in all; a round costs some thousands beside its points."""
ROUND_COST, BOUND_COST, GROUP_COST = 15_000, 6, 2_000
"""A point that rules bind costs as much as several free ones; so does each group."""
FEW_SLOTS = 40
"""So few slots, when rules bind them, leave small clouds, and time for half as many more."""
MANY_PAIRS = 60
"""Free slots from which exchanges two by two give a cloud that is large enough."""
PATIENCE = 6
"""Rounds without gain towards what no arrangement reaches."""
STARTS = {1: 2, 2: 4, 3: 6, 4: 12, 5: 24}
FIRST_POINTS, POLISH, STEPS = 12_000, 12, 4


def search(rules: Rules, work: Work, rng: np.random.Generator, budget: int) -> Ints:
    """The best order found under the rules; refuses when there is none to begin with."""
    starts = _begin(rules, work, rng)
    if rules.bound and rules.slots <= FEW_SLOTS:
        budget = budget * 3 // 2
    return _Search(rules=rules, work=work, rng=rng, best=starts[0], budget=budget).run(starts)


def _begin(rules: Rules, work: Work, rng: np.random.Generator) -> list[Ints]:
    """Legal orders to search from, the best first."""
    orders = [turn(rules, order) for order in _starts(rules, work, rng)]
    if not orders:
        seated = find_seats(rules)
        if seated.order is None:
            refuse(rules)
            raise AssertionError("refuse always raises")
        orders = [seated.order]
    if not rules.bound:
        return sorted((descend(rules, order, POLISH) for order in orders), key=rules.key)
    many = STARTS[work.effort]
    best = sorted(orders, key=rules.key)[:many]
    steps = 2 * POLISH * many // len(best)
    return sorted((descend(rules, order, steps) for order in best), key=rules.key)


def _starts(rules: Rules, work: Work, rng: np.random.Generator) -> Iterator[Ints]:
    """Legal orders of different kinds."""
    if not rules.bound:
        yield random_order(rules, rng)
        if rules.start.any():
            yield against(rules, rng)
        return
    if rules.near is None:
        pairs = spread_pairs(rules)
        if rules.keeps(pairs):
            yield pairs
            if rules.aim.spends_on_pairs:
                return
    yield from _bound_starts(rules, work, rng)


def _bound_starts(rules: Rules, work: Work, rng: np.random.Generator) -> Iterator[Ints]:
    """Hills, tips, orders seated at random, and sorted pairs."""
    many = STARTS[work.effort]
    yield from islice(hill_orders(rules), many)
    if rules.near is not None:
        yield from islice(tipped_orders(rules), 3 * many)
    orders = many_orders(rules, max(20, 8_000 // rules.slots), rng)
    if len(orders):
        left = rules.start[:, None] + rules.loads[:, orders] @ rules.phasors
        best = np.argsort(rules.score(left), kind="stable")
        yield from orders[best[:many]]
    pairs = pair_order(rules, rng)
    if rules.keeps(pairs):
        yield pairs


@dataclass(kw_only=True)
class _Search:
    """Rounds until the work is done."""

    rules: Rules
    work: Work
    rng: np.random.Generator
    best: Ints
    budget: int
    listed: int = field(default=0)

    def run(self, starts: list[Ints]) -> Ints:
        """The best order; what it leaves only ever falls.

        Where rules bind, no walk leads from every order to every other: half of the work goes
        to the starts in turn, the other half to where the best was found.
        """
        if len(starts) > 1:
            for number, start in enumerate(starts, 1):
                self.walk(start, self.budget * number // (2 * len(starts)))
        self.walk(self.best, self.budget)
        return self.best

    def walk(self, at: Ints, budget: int) -> None:
        """Rounds from one start, each from an order about as good as the one before.

        After each, the best it gave is refined by exchanging blades that are nearly alike.
        """
        rules, most = self.rules, POINTS[self.work.effort]
        points, stuck = min(FIRST_POINTS, most), 0
        for number in count():
            if self.listed >= budget or stuck > PATIENCE or self._done():
                break
            coarse = min(points, FIRST_POINTS) if self._many else points
            plan = replace(self._plans[number % len(self._plans)], points=coarse)
            played = self._play(at, plan)
            at = played.next if played.near else descend(rules, played.next, STEPS)
            gained = self._take(played.best)
            if played.near and not self._done():
                gained |= self._refine(played.best, points)
            stuck = 0 if gained or played.near or rules.bound else stuck + 1
            if played.near:
                points = min(points * 3, most) if rules.bound else most
            self.work.report(min(self.listed / self.budget, 1.0), "ordering", self.best)

    def _refine(self, at: Ints, points: int) -> bool:
        """Finer and finer exchanges from one order."""
        gained = False
        if not self._many:
            return False
        steps = [(3, FIRST_POINTS), (2, points)]
        if len(self.rules.free) <= MANY_PAIRS:
            steps = [(3, points)]
        for size, most in steps:
            plan = replace(self._fine, points=min(points, most), size=size)
            at = self._play(at, plan).best
            gained |= self._take(at)
        return gained

    @property
    def _many(self) -> bool:
        """True when enough free slots are there to find many blades that are nearly alike."""
        return len(self.rules.free) > 30

    def _play(self, at: Ints, plan: Plan) -> Played:
        """One round, and what it cost."""
        each = BOUND_COST if self.rules.bound else 1
        room = max(FIRST_POINTS, (self.budget - self.listed) // (2 * each))
        plan = replace(plan, points=min(plan.points, room))
        played = play(self.rules, at, plan, self.rng)
        group = GROUP_COST if self.rules.bound else 0
        self.listed += each * played.points + group * played.groups + ROUND_COST
        return played

    def _take(self, found: Ints) -> bool:
        """Keep an order that is better and legal."""
        if self.rules.key(found) >= self.rules.key(self.best) or not self.rules.keeps(found):
            return False
        self.best = found
        return True

    def _done(self) -> bool:
        """True when nothing more is asked, or the work must end."""
        return self.rules.done(self.best) or self.work.over()

    @cached_property
    def _fine(self) -> Plan:
        """Exchanges of blades nearly alike."""
        units: tuple[Unit, ...] = tuple((slot,) for slot in self.rules.free.tolist())
        return Plan(units=units, by="alike", class_first=self.rules.alternate)

    @cached_property
    def _plans(self) -> list[Plan]:
        """Mixes to take in turn."""
        rules = self.rules
        half, free = rules.slots // 2, set(rules.free.tolist())
        single = replace(self._fine, by="any")
        if not rules.bound:
            return [single]
        plans = [replace(single, by="alike")]
        if rules.near is not None:
            beside = replace(single, by="beside", class_first=False)
            plans = [beside, replace(single, by="every other"), beside, *plans]
        pairs: tuple[Unit, ...] = tuple(
            (slot, slot + half) for slot in range(half) if {slot, slot + half} <= free
        )
        if rules.across is None or len(pairs) < 2:
            return plans
        double = replace(single, units=pairs)
        if rules.near is None:
            return [double, replace(double, by="alike"), *plans]
        around = replace(double, by="beside", class_first=False)
        return [*plans, around, replace(double, by="every other")]

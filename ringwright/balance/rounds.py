"""One round of the search: two sides of the ring, a cloud from each, the best match of both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ringwright.balance.clouds import match
from ringwright.balance.groups import Group, cut, group_of, part
from ringwright.balance.pool import Floats, Ints, Vectors
from ringwright.balance.ring_rules import Rules
from ringwright.balance.ways import Unit

MOST_PART = 20_000
"""Points of one split: more come from splitting the side another way."""
LEAST_GAIN, USUAL_SIZE = 64, 5
MOST_SPLITS, MOST_BOUND = 250, 12
LOOKED_AT = 60
"""Matches measured when opposite blades count too; the grid only knows the residual."""


@dataclass(frozen=True, kw_only=True)
class Split:
    """One way to cut a side into groups; its points are all combinations of their ways."""

    groups: tuple[Group, ...]
    points: Vectors
    """Shape (channels, combinations)."""

    def apply(self, order: Ints, combination: int) -> None:
        """Put the blades of one combination into the order."""
        ways = np.unravel_index(combination, tuple(len(g.puts) for g in self.groups))
        for group, way in zip(self.groups, ways, strict=True):
            order[group.slots] = group.puts[way]


@dataclass(frozen=True, kw_only=True)
class Cloud:
    """The points of several splits of one side."""

    splits: tuple[Split, ...]
    points: Vectors

    def apply(self, order: Ints, point: int) -> None:
        """Put the blades of one point into the order."""
        for split in self.splits:
            if point < split.points.shape[1]:
                split.apply(order, point)
                return
            point -= split.points.shape[1]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """How a round mixes: which units, in what sequence, how many points for each side."""

    units: tuple[Unit, ...]
    by: str
    """`any`: at random; `alike`: by their blades' moments; `beside`: round the ring;
    `every other`: at random among slots that are not neighbours."""
    points: int = 0
    """Asked of each side's cloud."""
    class_first: bool = False
    size: int = 0
    """Units of a group; 0: as many as can be listed."""


def sequence(rules: Rules, order: Ints, plan: Plan, rng: np.random.Generator) -> list[Unit]:
    """The plan's units in the sequence in which they are cut."""
    units = list(plan.units)
    if plan.by == "alike":
        return [units[at] for at in _alike(rules, order, plan, rng)]
    first = np.array([unit[0] for unit in units], dtype=np.intp)
    noise = rng.random(len(units))
    key: Floats = noise
    if plan.by == "beside":
        whole = rules.across is None and len(units[0]) == 1
        around = rules.slots if whole else rules.slots // 2
        key = ((first - int(rng.integers(around))) % around).astype(np.float64)
    if plan.by == "every other":
        key = noise + 2.0 * rules.slots * ((first + int(rng.integers(2))) % 2)
    if plan.class_first:
        key = key - rules.side[order[first]] * 4.0 * rules.slots
    return [units[at] for at in np.argsort(key, kind="stable")]


def _alike(rules: Rules, order: Ints, plan: Plan, rng: np.random.Generator) -> list[int]:
    """Units so that each next few bring about the same: exchanged, they change little."""
    held = order[np.array(plan.units, dtype=np.intp)]
    brought = rules.loads[:, held[:, 0]]
    if held.shape[1] == 2:
        brought = brought - rules.loads[:, held[:, 1]]
    side = rules.side[held[:, 0]] * 1e3
    traits = np.vstack([*(brought / rules.scale[:, None]), side])
    apart = np.abs(traits[:, :, None] - traits[:, None, :]).sum(axis=0)
    if plan.size == 2:
        return _least_exchanges(rules, plan, apart, rng)
    size = plan.size or USUAL_SIZE
    found: list[int] = []
    for seed in rng.permutation(len(held)):
        if not math.isfinite(apart[seed, seed]):
            continue
        near = np.argsort(apart[seed], kind="stable")[:size]
        near = near[np.isfinite(apart[seed, near])]
        found += near.tolist()
        apart[:, near] = np.inf
    if plan.class_first:
        found.sort(key=lambda at: -int(rules.side[held[at, 0]]))
    return found


def _least_exchanges(
    rules: Rules, plan: Plan, apart: Floats, rng: np.random.Generator
) -> list[int]:
    """Units two by two, those first whose exchange changes least, at random among the least."""
    slots = np.array([unit[0] for unit in plan.units], dtype=np.intp)
    one, other = np.triu_indices(len(slots), 1)
    away = np.abs(rules.phasors[slots[one]] - rules.phasors[slots[other]])
    change = apart[one, other] * away * rng.lognormal(0.0, 0.5, len(one))
    used: set[int] = set()
    found: list[int] = []
    for at in np.argsort(change, kind="stable").tolist():
        pair = {int(one[at]), int(other[at])}
        if used.isdisjoint(pair):
            used |= pair
            found += sorted(pair)
    return found


@dataclass(frozen=True, kw_only=True)
class _Dealer:
    """Makes the splits of one round."""

    rules: Rules
    order: Ints
    plan: Plan
    rng: np.random.Generator

    def split(self, groups: list[list[Unit]], most: int) -> Split | None:
        """Combine groups until their product is large enough; None when nothing can move."""
        points = np.zeros((len(self.rules.loads), 1), dtype=np.complex128)
        used: list[Group] = []
        for units in groups:
            room = most // points.shape[1]
            if room < 2:
                break
            group = group_of(self.rules, self.order, units, room, self.rng)
            if len(group.puts) < 2:
                continue
            points = (points[:, :, None] + group.shifts[:, None, :]).reshape(len(points), -1)
            used.append(group)
        return Split(groups=tuple(used), points=points) if used else None

    def cloud(self, side: Sequence[Unit]) -> Cloud:
        """Split a side in several ways until it has the points that the plan asks for."""
        splits: list[Split] = []
        total = 0
        mixed = replace(self.plan, units=tuple(side))
        most = max(MOST_PART, self.plan.points // (2 if mixed.size == 2 else 8))
        wanted = min(self.plan.points, _all_ways(side))
        while total < wanted and side:
            units = sequence(self.rules, self.order, mixed, self.rng)
            groups = cut(self.rules, units, self.plan.size or _group_size(self.rules, side))
            if len(groups) > 2 and mixed.size != 2:
                groups = [groups[at] for at in self.rng.permutation(len(groups))]
            split = self.split(groups, most)
            if split is None:
                break
            splits.append(split)
            total += split.points.shape[1]
            many = len(splits) > (MOST_BOUND if self.rules.bound else MOST_SPLITS)
            if (
                many
                or len(groups) == 1
                or (len(splits) > 3 and total < LEAST_GAIN * len(splits))
            ):
                break
        if not splits:
            none = np.zeros((len(self.rules.loads), 1), dtype=np.complex128)
            splits.append(Split(groups=(), points=none))
        points = np.concatenate([split.points for split in splits], axis=1)
        return Cloud(splits=tuple(splits), points=points)


def _all_ways(side: Sequence[Unit]) -> int:
    """How many arrangements a side has at all; pairs go either way round."""
    count = min(len(side), 12)
    return math.factorial(count) * (2**count if side and len(side[0]) == 2 else 1)


def _group_size(rules: Rules, side: Sequence[Unit]) -> int:
    """Slots of one group: all of a small side, else as many as can be listed at once."""
    if not side:
        return 1
    if len(side[0]) == 2:
        return 5 if len(side) <= 5 else 4
    if rules.bound:
        return len(side) if len(side) <= 10 else 6
    return len(side) if len(side) <= 6 else 5


@dataclass(frozen=True, kw_only=True)
class Played:
    """What one round gave."""

    best: Ints
    """The best order found, or the one the round began with."""
    next: Ints
    """Another order about as good to begin the next round with."""
    points: int
    groups: int
    near: bool
    """Whether the clouds could cancel what was there."""


def play(rules: Rules, order: Ints, plan: Plan, rng: np.random.Generator) -> Played:
    """One round about an order."""
    one_side, other_side = part(rules, sequence(rules, order, plan, rng))
    dealer = _Dealer(rules=rules, order=order, plan=plan, rng=rng)
    one, other = dealer.cloud(one_side), dealer.cloud(other_side)
    target = rules.left(order)
    firsts, seconds, near = match(rules, target, one.points, other.points)

    def put(at: int) -> Ints:
        found = order.copy()
        one.apply(found, int(firsts[at]))
        other.apply(found, int(seconds[at]))
        return found

    many = LOOKED_AT if rules.aim.spends_on_pairs else 4
    orders = [order, *(put(at) for at in range(min(many, len(firsts))))]
    best = min(orders, key=rules.key)
    return Played(
        best=best,
        next=put(int(rng.integers(len(firsts)))),
        points=one.points.shape[1] + other.points.shape[1],
        groups=sum(len(split.groups) for split in (*one.splits, *other.splits)),
        near=near,
    )

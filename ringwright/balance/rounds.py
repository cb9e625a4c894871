"""One round of the search: two sides of the ring, a cloud from each, the best match of both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.balance.clouds import match
from ringwright.balance.groups import Group, Unit, cut, group_of, part
from ringwright.balance.pool import Floats, Ints, Vectors
from ringwright.balance.ring_rules import Rules

MOST_PART = 20_000
"""Points of one split: more come from splitting the side another way."""
LEAST_GAIN = 64


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
    """`any`: at random; `alike`: by their blades' moments; `beside`: round the ring."""
    points: int
    class_first: bool = False


def sequence(rules: Rules, order: Ints, plan: Plan, rng: np.random.Generator) -> list[Unit]:
    """The plan's units in the sequence in which they are cut."""
    units = list(plan.units)
    first = np.array([unit[0] for unit in units], dtype=np.intp)
    noise = rng.random(len(units))
    key: Floats = noise
    if plan.by == "alike":
        ranks = np.argsort(np.argsort(rules.radial[order[first]]))
        key = np.add(ranks, 3.0 * noise, dtype=np.float64)
    elif plan.by == "beside":
        around = rules.slots // len(units[0])
        key = ((first - int(rng.integers(around))) % around).astype(np.float64)
    if plan.class_first:
        key = key - rules.side[order[first]] * 4.0 * rules.slots
    return [units[at] for at in np.argsort(key, kind="stable")]


def _split(rules: Rules, order: Ints, groups: list[list[Unit]], most: int) -> Split | None:
    """Combine groups until their product is large enough; None when nothing can move."""
    points = np.zeros((len(rules.loads), 1), dtype=np.complex128)
    used: list[Group] = []
    for units in groups:
        group = group_of(rules, order, units)
        room = most // points.shape[1]
        if len(group.puts) < 2 or room < 2:
            continue
        if len(group.puts) > room:
            group = Group(
                slots=group.slots, puts=group.puts[:room], shifts=group.shifts[:, :room]
            )
        points = (points[:, :, None] + group.shifts[:, None, :]).reshape(len(points), -1)
        used.append(group)
        if points.shape[1] * 2 > most:
            break
    return Split(groups=tuple(used), points=points) if used else None


def _cloud(
    rules: Rules, order: Ints, side: Sequence[Unit], plan: Plan, rng: np.random.Generator
) -> Cloud:
    """Split a side in several ways until it has the points that the plan asks for."""
    splits: list[Split] = []
    total = 0
    size = _group_size(rules, side)
    mixed = Plan(units=tuple(side), by=plan.by, points=0, class_first=plan.class_first)
    while total < plan.points and side:
        units = sequence(rules, order, mixed, rng)
        groups = cut(rules, units, size)
        if len(groups) > 2:
            groups = [groups[at] for at in rng.permutation(len(groups))]
        split = _split(rules, order, groups, max(MOST_PART, plan.points // 8))
        if split is None:
            break
        splits.append(split)
        total += split.points.shape[1]
        if len(groups) == 1 or (len(splits) > 3 and total < LEAST_GAIN * len(splits)):
            break
    if not splits:
        none = Split(groups=(), points=np.zeros((len(rules.loads), 1), dtype=np.complex128))
        splits.append(none)
    return Cloud(
        splits=tuple(splits), points=np.concatenate([s.points for s in splits], axis=1)
    )


def _group_size(rules: Rules, side: Sequence[Unit]) -> int:
    """Slots of one group: all of a small side, else as many as can be listed at once."""
    if not side:
        return 1
    if len(side[0]) == 2:
        return 5 if len(side) == 5 else 4
    if rules.alternate or rules.bound:
        return 6
    return len(side) if len(side) <= 6 else 5


def play(rules: Rules, order: Ints, plan: Plan, rng: np.random.Generator) -> tuple[Ints, int]:
    """The best order of one round, never worse than the one given; and the points listed."""
    one_side, other_side = part(rules, sequence(rules, order, plan, rng))
    one = _cloud(rules, order, one_side, plan, rng)
    other = _cloud(rules, order, other_side, plan, rng)
    target = rules.left(order)
    firsts, seconds = match(rules, target, one.points, other.points)
    best, best_score = order, float(rules.score(target))
    for first, second in zip(firsts[:8], seconds[:8], strict=True):
        found = order.copy()
        one.apply(found, int(first))
        other.apply(found, int(second))
        score = float(rules.score(rules.left(found)))
        if score < best_score and rules.keeps(found):
            best, best_score = found, score
    return best, one.points.shape[1] + other.points.shape[1]

"""The recipe laid along the trace: which stretch of the record belongs to which target.

As with a ruler on the chart. The targets of the recipe follow each other in their order, those
of neighbouring segments that are equal being one. Each reading belongs to the target that it
lies nearest to, as far as the order allows, so that a line half way between two targets cuts
the way from one to the next. None is passed over: a target's stretch ends only after the load
has come three quarters of the way to it, or into its band, or has crossed it. The cut is made
so that the readings lie nearest to their targets in all (the least sum of differences, each
over the time it stands for); so a dip towards the next target from which the load comes back
belongs to the soak it interrupts, and is no departure. What the record holds after
the last time at its last target weighs little, for the recipe says nothing of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ringwright.heat.channels import Bools
from ringwright.heat.trace import Floats

NEAR: Final = 0.25
"""What may be lacking of the way to a target that counts as approached."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """The samples [begin, end) that belong to one target."""

    begin: int
    end: int
    approached: bool
    """False where the record ends on the way: nothing after this one has begun."""


def lay(
    values: Floats, targets: Sequence[float], bands: Sequence[float], weights: Floats
) -> list[Stretch]:
    """The stretches of the targets that the trace came to, in order; the rest never began.

    `values` (n,) without blanks, n > 0; `bands` the tolerance about each target; `weights`
    (n,) the time that each sample stands for.
    """
    total = np.concatenate([[0.0], np.cumsum(weights)])
    step = 0.0
    costs, keys, last_near = [], [], []
    entry = np.full(values.size + 1, np.inf)
    entry[0] = 0.0
    before = float(values[0])
    for target, band in zip(targets, bands, strict=True):
        cost = np.concatenate([[0.0], np.cumsum(weights * np.abs(values - target))])
        least, where = _running(entry - cost)
        near = _last_before(approached(values, target, before, band))
        entry = np.where(near >= 0, cost + least[np.maximum(near, 0)], np.inf)
        costs.append(float(cost[-1] + least[-1]))
        keys.append(where)
        last_near.append(near)
        step, before = abs(target - before), target
    # What follows the last time at the last target costs twice its band, however far it goes.
    after = min(step / 2.0, max(2.0 * bands[-1], step / 100.0))
    last_at = int(_last_before(_at(values, targets[-1], bands[-1]))[-1])
    tail = np.where((np.arange(entry.size) > last_at) & (last_at >= 0), entry, np.inf)
    tail += after * (total[-1] - total)
    over = int(np.argmin(tail))
    begins_at = [values.size] * len(costs)
    if tail[over] < costs[-1]:
        costs[-1], begins_at[-1] = float(tail[over]), int(last_near[-1][over])
    last = _cheapest(costs)
    return _cut(last, begins_at[last], keys, last_near)


def approached(values: Floats, target: float, before: float, band: float) -> Bools:
    """(n,) True where the load has come near a target, on the way from the one before."""
    return _at(values, target, max(band, NEAR * abs(target - before)))


def _at(values: Floats, target: float, reach: float) -> Bools:
    """(n,) True within reach of a target, and where it has just been crossed."""
    near: Bools = np.abs(values - target) <= reach
    crossed = (values[:-1] - target) * (values[1:] - target) < 0
    near[1:] |= crossed
    return near


def _running(values: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """The least so far at each place, and where that first stood."""
    least = np.minimum.accumulate(values)
    fresh = np.concatenate([[True], values[1:] < least[:-1]])
    where = np.maximum.accumulate(np.where(fresh, np.arange(values.size), 0))
    return least, where


def _last_before(near: Bools) -> NDArray[np.intp]:
    """(n + 1,) the last sample before each boundary that is near; -1 where there is none."""
    places = np.where(near, np.arange(near.size), -1)
    return np.concatenate([[-1], np.maximum.accumulate(places)])


def _cheapest(costs: Sequence[float]) -> int:
    """The target with which the record ends; of equals the earliest."""
    best = 0
    for place, cost in enumerate(costs):
        if cost < costs[best] - 1e-9 * (1.0 + abs(costs[best])):
            best = place
    return best


def _cut(
    last: int,
    known_at: int,
    keys: Sequence[NDArray[np.intp]],
    last_near: Sequence[NDArray[np.intp]],
) -> list[Stretch]:
    """Back along the least sums, from the end of the record to its beginning.

    `known_at` is the place by which the last target's begin is decided.
    """
    found: list[Stretch] = []
    end = keys[0].size - 1
    for place in range(last, -1, -1):
        near = int(last_near[place][end])
        begin = int(keys[place][near if place < last else known_at])
        found.append(Stretch(begin=begin, end=end, approached=near >= begin))
        end = begin
    return found[::-1]

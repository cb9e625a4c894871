"""Groups of slots whose blades may change places among themselves, and all the ways they can.

Groups that do not limit each other can be combined freely: their vectors just add.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ringwright.balance.pool import Ints, Vectors
from ringwright.balance.ring_rules import Rules
from ringwright.balance.ways import Unit, ways


@lru_cache(maxsize=16)
def arrangements(count: int) -> Ints:
    """All arrangements of `count` things, shape (count!, count); the first changes nothing."""
    if count == 0:
        return np.zeros((1, 0), dtype=np.intp)
    shorter = arrangements(count - 1)
    # The last thing goes to each place in turn, from the last place down.
    parts = [np.insert(shorter, at, count - 1, axis=1) for at in range(count - 1, -1, -1)]
    found: Ints = np.concatenate(parts).astype(np.intp)
    found.flags.writeable = False
    return found


@lru_cache(maxsize=16)
def turned_pairs(count: int) -> Ints:
    """All arrangements of pairs, each either way round: shape (count!·2^count, 2·count)."""
    places = arrangements(count)
    parts = []
    for turns in range(2**count):
        flip = (turns >> places) & 1
        columns = np.stack([2 * places + flip, 2 * places + 1 - flip], axis=2)
        parts.append(columns.reshape(len(places), 2 * count))
    found: Ints = np.concatenate(parts)
    found.flags.writeable = False
    return found


@dataclass(frozen=True, kw_only=True)
class Group:
    """What the blades of a few slots can do: row 0 is as they stand."""

    slots: Ints
    puts: Ints
    """Shape (ways, slots): the blades in these slots."""
    shifts: Vectors
    """Shape (channels, ways): how the sum changes."""


def group_of(
    rules: Rules, order: Ints, units: Sequence[Unit], most: int, rng: np.random.Generator
) -> Group:
    """Every way that keeps the rules while all other slots stay as they are, at most `most`."""
    if rules.bound:
        slots, puts = ways(rules, order, units, most, rng)
    else:
        slots = np.array(units, dtype=np.intp).ravel()
        paired = len(units[0]) == 2
        table = turned_pairs(len(units)) if paired else arrangements(len(units))
        puts = order[slots][table]
        if rules.alternate:
            puts = puts[(rules.side[puts] == rules.side[order[slots]]).all(axis=1)]
        puts = puts[:most]
    brought = (rules.loads[:, puts] * rules.phasors[slots]).sum(axis=2)
    return Group(slots=slots, puts=puts, shifts=brought - brought[:, :1])


def touching(rules: Rules, units: Iterable[Unit]) -> set[int]:
    """Slots that are limited against any slot of the units."""
    return {beside for unit in units for slot in unit for beside, _ in rules.edges[slot]}


def cut(rules: Rules, units: Sequence[Unit], size: int) -> list[list[Unit]]:
    """The units in their sequence as groups of at most `size` that leave each other alone."""
    groups: list[list[Unit]] = []
    group: list[Unit] = []
    blocked: set[int] = set()
    for unit in units:
        if not blocked.isdisjoint(unit):
            continue
        group.append(unit)
        if len(group) == size:
            groups.append(group)
            blocked |= touching(rules, group) if rules.bound else set()
            group = []
    return [*groups, group] if group else groups


def part(rules: Rules, units: Sequence[Unit]) -> tuple[list[Unit], list[Unit]]:
    """The units in their sequence as two sides that leave each other alone."""
    middle = len(units) // 4 * 2
    one, other = list(units[:middle]), list(units[middle:])
    if not rules.bound:
        return one, other
    for turn in range(len(units)):
        near_one, near_other = touching(rules, one), touching(rules, other)
        bad_one = [unit for unit in one if not near_other.isdisjoint(unit)]
        bad_other = [unit for unit in other if not near_one.isdisjoint(unit)]
        if not bad_one and not bad_other:
            break
        if bad_other and (turn % 2 or not bad_one):
            other.remove(bad_other[0])
        else:
            one.remove(bad_one[-1])
    return one, other

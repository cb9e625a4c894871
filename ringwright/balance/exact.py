"""All orders of a few free slots, one by one: the best there is."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from ringwright.balance.groups import arrangements
from ringwright.balance.pool import Floats, Ints, Vectors
from ringwright.balance.ring_rules import Rules
from ringwright.balance.work import Work

MOST_LISTED = 9
"""Slots whose arrangements are listed in one table."""
_LOOK, _CHUNK = 256, 20_000


def listable(rules: Rules, effort: int) -> bool:
    """True when all orders are to be looked at: ten times as many from the usual effort on."""
    quick = rules.aim.spends_on_pairs and rules.slots % 2 == 0
    quick = quick or rules.bound or len(rules.loads) > 1
    more = effort > 3 or (effort == 3 and not quick)
    return _to_arrange(rules) <= MOST_LISTED + (1 if more else 0)


def _to_arrange(rules: Rules) -> int:
    """Free slots, less one where the ring may be turned."""
    return len(rules.free) - (1 if rules.turns else 0)


def _bases(rules: Rules) -> Iterator[tuple[Ints, Ints, Ints]]:
    """Orders filled but for a few slots, those slots, and the blades to fill them with."""
    order, slots, blades = rules.fixed.copy(), rules.free, rules.free_blades
    if rules.turns:
        order[slots[0]] = blades[0]
        slots, blades = slots[1:], blades[1:]
    if len(slots) <= MOST_LISTED:
        yield order, slots, blades
        return
    for blade in blades:
        filled = order.copy()
        filled[slots[0]] = blade
        yield filled, slots[1:], blades[blades != blade]


def best_of_all(rules: Rules, work: Work) -> Ints | None:
    """The best order that keeps the rules; None when none does."""
    best, best_key = None, (np.inf, np.inf)
    for base, slots, blades in _bases(rules):
        if best is not None and work.over():
            break
        columns = _columns(len(slots))
        left = np.repeat(_fixed_part(rules, base)[:, None], columns.shape[1], axis=1)
        for column, slot in zip(columns, slots, strict=True):
            left += (rules.loads[:, blades] * rules.phasors[slot])[:, column]
        found = _first_legal(rules, base, slots, blades[columns], rules.score(left))
        if found is not None and rules.key(found) < best_key:
            best, best_key = found, rules.key(found)
    return best


@lru_cache(maxsize=2)
def _columns(count: int) -> Ints:
    """All arrangements, one row for each slot."""
    return np.ascontiguousarray(arrangements(count).T)


def _fixed_part(rules: Rules, base: Ints) -> Vectors:
    """What the filled slots and the disc leave."""
    filled = np.flatnonzero(base >= 0)
    found: Vectors = rules.start + rules.loads[:, base[filled]] @ rules.phasors[filled]
    return found


def _first_legal(
    rules: Rules, base: Ints, slots: Ints, puts: Ints, scores: Floats
) -> Ints | None:
    """The lowest score that keeps the rules; among equals the closest opposite blades."""
    for rows in _lowest_first(scores):
        orders = np.repeat(base[None, :], len(rows), axis=0)
        orders[:, slots] = puts[:, rows].T
        legal = np.flatnonzero(rules.legal(orders))
        if len(legal):
            first = scores[rows[legal[0]]]
            equal = legal[scores[rows[legal]] <= first]
            best = min(equal.tolist(), key=lambda row: rules.pair_loss(orders[row]))
            found: Ints = orders[best]
            return found
    return None


def _lowest_first(scores: Floats) -> Iterator[Ints]:
    """Rows by rising score: those that are enough or a short look first, then long ones."""
    enough = np.flatnonzero(scores <= 0.0)
    if len(enough):
        yield enough
    if len(scores) > _LOOK:
        few = np.argpartition(scores, _LOOK)[:_LOOK]
        yield few[np.argsort(scores[few], kind="stable")]
    sequence = np.argsort(scores, kind="stable")
    for begin in range(0, len(sequence), _CHUNK):
        yield sequence[begin : begin + _CHUNK]

"""Pair blades that may face each other, so that sets made of pairs keep the opposite limit."""

from __future__ import annotations

import numpy as np

from ringwright.balance.draw_fit import Puzzle
from ringwright.balance.draw_leave import leave_easy
from ringwright.balance.draw_pack import Packer
from ringwright.balance.draw_stock import Stock, maximal
from ringwright.balance.pool import Floats, Ints
from ringwright.balance.work import Work


def close_pairs(stock: Stock, most_apart_g_mm: float, reach_hz: float) -> Ints:
    """Disjoint pairs no further apart than this, shape (pairs, 2), nearest frequency first."""
    moments = stock.moment_g_mm
    one, other = np.triu_indices(len(stock), k=1)
    apart = np.abs(moments[one] - moments[other])
    fits = apart <= most_apart_g_mm
    away = apart / max(most_apart_g_mm, 1e-12)
    if stock.frequency_hz is not None and np.isfinite(reach_hz):
        between = np.abs(stock.frequency_hz[one] - stock.frequency_hz[other])
        fits &= between <= reach_hz
        away = 0.3 * away + between / max(reach_hz, 1e-12)
    one, other, away = one[fits], other[fits], away[fits]
    free = np.ones(len(stock), dtype=np.bool_)
    found = []
    for at in np.argsort(away, kind="stable").tolist():
        if free[one[at]] and free[other[at]]:
            free[[one[at], other[at]]] = False
            found.append((one[at], other[at]))
    return np.array(found, dtype=np.intp).reshape(-1, 2)


def pack_pairs(
    puzzle: Puzzle, paired: Ints, where: Floats, cost: Floats, most: int, work: Work
) -> list[Ints]:
    """Sets of whole pairs inside the puzzle's boxes, at most so many."""
    boxes, slots = puzzle.boxes, puzzle.slots
    both = boxes[:, paired[:, 0]] & boxes[:, paired[:, 1]]
    both = both[both.sum(axis=1) >= slots // 2]
    if not len(both):
        return []
    of_pairs = Puzzle(boxes=both[maximal(both)], slots=slots // 2)
    pair_cost = cost[paired].sum(axis=1)
    packer = Packer(of_pairs, where[paired].mean(axis=1), pair_cost, work)
    packed = packer.press(packer.pack(min(most, len(paired) // (slots // 2))), most)
    if packed.boxes:
        packed = leave_easy(of_pairs, packed, pair_cost, work)
    return [np.sort(paired[set_].ravel()) for set_ in packed.sets]

"""Use the blades that are hard to place, and leave the easy ones on the shelf."""

from __future__ import annotations

import numpy as np

from ringwright.balance.draw_fit import Puzzle
from ringwright.balance.draw_pack import Packed
from ringwright.balance.draw_share import share
from ringwright.balance.pool import Floats
from ringwright.balance.work import Work


def leave_easy(puzzle: Puzzle, packed: Packed, cost: Floats, work: Work) -> Packed:
    """The same number of sets from cheaper blades: one set moved at a time, then all shared."""
    for _ in range(work.effort):
        moved = _move_each(puzzle, packed, cost)
        packed = _share_all(puzzle, packed, cost)
        if not moved or work.over():
            break
    return packed


def _move_each(puzzle: Puzzle, packed: Packed, cost: Floats) -> bool:
    """Move each set to where the blades in no other set are cheapest; True when one moved."""
    moved = False
    for number, old in enumerate(packed.sets):
        free = packed.free(len(cost))
        free[old] = True
        need = puzzle.need(number)
        choices = puzzle.choices(number)
        inside = np.where(puzzle.boxes[choices] & free, cost, np.inf)
        cheapest = np.sort(inside, axis=1)[:, :need].sum(axis=1)
        best = int(np.argmin(cheapest))
        if cheapest[best] < cost[old].sum() - 1e-9:
            packed.boxes[number] = int(choices[best])
            packed.sets[number] = np.sort(np.argsort(inside[best], kind="stable")[:need])
            moved = True
    return moved


def _share_all(puzzle: Puzzle, packed: Packed, cost: Floats) -> Packed:
    """Share the blades of these boxes anew, all sets together."""
    needs = np.array([puzzle.need(n) for n in range(len(packed))], dtype=np.intp)
    sets = share(puzzle.boxes[packed.boxes], needs, cost)
    if sets is None:
        return packed
    return Packed(boxes=list(packed.boxes), sets=list(sets))

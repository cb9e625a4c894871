"""Pack as many sets as possible: a few boxes all at once, many boxes a few at a time.

Beyond `MOST_TOGETHER` sets, neighbouring sets are taken apart together with the free blades and
one set more is tried from them: a large neighbourhood search (P. Shaw, "Using constraint
programming and local search methods to solve vehicle routing problems", CP 1998).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ringwright.balance.draw_fit import MOST_TOGETHER, Fitter, Flags, Puzzle
from ringwright.balance.draw_share import share
from ringwright.balance.pool import Floats, Ints
from ringwright.balance.work import Work

_MOST_BOXES = 600
# Multiplications that pressing for one set more may cost at each effort: about a second.
_LABOUR = 2e10


@dataclass(kw_only=True)
class Packed:
    """Sets placed so far: the box of each, and its blades (the locked ones apart)."""

    boxes: list[int] = field(default_factory=list)
    sets: list[Ints] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.boxes)

    def free(self, blades: int) -> Flags:
        """True for the blades in no set."""
        found = np.ones(blades, dtype=np.bool_)
        for set_ in self.sets:
            found[set_] = False
        return found


class Packer:
    """One packing of a puzzle. `cost` is what using a blade costs: the hard ones are cheap."""

    def __init__(self, puzzle: Puzzle, where: Floats, cost: Floats, work: Work) -> None:
        self.puzzle = puzzle
        self.where = where
        """Shape (blades, 1 or 2): readings in units of their limits."""
        self.cost = cost
        self.work = work
        self.labour = 0.0
        self.rng = np.random.default_rng(work.seed)

    def pack(self, most: int) -> Packed:
        """As many sets as a short search finds, at most `most`."""
        packed = Packed()
        while len(packed) < most and not (packed.boxes and self.work.over()):
            together = min(MOST_TOGETHER, most - len(packed))
            more = self._first_that_fits(packed, together)
            if more is None:
                break
            packed.boxes += more.boxes
            packed.sets += more.sets
            if len(more) < together:
                break
        return packed

    def _first_that_fits(self, packed: Packed, together: int) -> Packed | None:
        """The most sets, up to `together`, from the blades that are free."""
        free = packed.free(self.puzzle.boxes.shape[1])
        for count in range(together, 0, -1):
            more = self._place(free, count, 20 * self.work.effort, first=not packed.boxes)
            if more is not None:
                return more
        return None

    def _place(self, free: Flags, count: int, rounds: int, *, first: bool) -> Packed | None:
        """So many sets from the free blades, or None."""
        part = self.puzzle.within(free, first=first, most=_MOST_BOXES, rng=self.rng)
        fitter = Fitter(part.puzzle, self.rng)
        found = fitter.fit(count, rounds)
        self.labour += fitter.labour
        if found is None:
            return None
        needs = np.array([part.puzzle.need(n) for n in range(count)], dtype=np.intp)
        sets = share(part.puzzle.boxes[found], needs, self.cost)
        if sets is None:
            return None
        return Packed(boxes=part.numbers[found].tolist(), sets=list(sets))

    def press(self, packed: Packed, target: int) -> Packed:
        """Try for one set more, again and again, within the effort."""
        begun = self.labour
        while len(packed) < target and self.labour - begun < _LABOUR * self.work.effort:
            if self.work.over():
                break
            packed = self._one_more(packed) or packed
        return packed

    def _one_more(self, packed: Packed) -> Packed | None:
        """One set more from some neighbouring sets and the free blades."""
        free = packed.free(self.puzzle.boxes.shape[1])
        group = self._neighbours(packed, free)
        for number in group:
            free[packed.sets[number]] = True
        more = self._place(
            free, len(group) + 1, 30 * self.work.effort, first=0 in group or not packed.boxes
        )
        if more is None:
            return None
        # The first set stays first: it alone has the locked blades.
        rest = [number for number in range(len(packed)) if number not in group]
        old = Packed(boxes=[packed.boxes[n] for n in rest], sets=[packed.sets[n] for n in rest])
        before, after = (more, old) if 0 in group else (old, more)
        return Packed(boxes=before.boxes + after.boxes, sets=before.sets + after.sets)

    def _neighbours(self, packed: Packed, free: Flags) -> list[int]:
        """Sets near a free blade drawn at random, as many as can be placed together."""
        if len(packed) < MOST_TOGETHER:
            return list(range(len(packed)))
        loose = np.flatnonzero(free & self.puzzle.boxes.any(axis=0))
        if not len(loose):
            loose = np.arange(len(free))
        seed = self.where[self.rng.choice(loose)]
        middles = np.array([self.where[set_].mean(axis=0) for set_ in packed.sets])
        away = np.abs(middles - seed).max(axis=1) + 0.3 * self.rng.random(len(middles))
        return sorted(np.argsort(away, kind="stable")[: MOST_TOGETHER - 1].tolist())

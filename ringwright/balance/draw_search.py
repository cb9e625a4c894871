"""One drawing: pack, leave the easy blades, see that each set has an order, bound all."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np

from ringwright.balance.bound import (
    LITTLE_LABOUR,
    USUAL_LABOUR,
    Bound,
    pairs,
    relax,
    ring_bound,
    runs,
)
from ringwright.balance.draw_fit import Flags, Puzzle
from ringwright.balance.draw_leave import leave_easy
from ringwright.balance.draw_mend import Mender
from ringwright.balance.draw_order import Orders, asks_order
from ringwright.balance.draw_pack import Packed, Packer
from ringwright.balance.draw_pairs import close_pairs, pack_pairs
from ringwright.balance.draw_share import ease
from ringwright.balance.draw_stock import (
    Masks,
    Stock,
    both_boxes,
    frequency_reach_hz,
    limit_boxes,
    moment_reach_g_mm,
)
from ringwright.balance.limits import Limits
from ringwright.balance.pool import Floats, Ints, Pool
from ringwright.balance.work import USUAL_EFFORT, Work

# How much narrower boxes are tried when sets inside the wide ones have no order.
_NARROWER = (0.7, 0.5, 0.35)
# Exchanges tried in mending at each effort.
_EXCHANGES = 300
# Sets tried one by one when a small stock seems to have none.
_MOST_SETS = 3000


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """Sets of blades, each unordered, by place in the pool."""

    sets: tuple[tuple[int, ...], ...]
    """With locks, the first set holds the locked blades; the others know no locks."""
    bound: Bound
    left_out: tuple[tuple[str, str], ...] = ()
    """Serial and reason of each blade that could not enter any set."""


class Search:
    """One drawing. `run` finds the sets; `bound` then holds the bound."""

    def __init__(self, pool: Pool, stock: Stock, limits: Limits, work: Work) -> None:
        self.stock = stock
        self.limits = limits
        self.work = work
        self.bound = Bound(max_sets=ring_bound(stock, limits), proved=False)
        self.reach_hz = frequency_reach_hz(limits)
        self.cost = ease(stock, self.reach_hz, moment_reach_g_mm(limits))
        orders = Orders(pool=pool, stock=stock, limits=limits)
        self.mender = Mender(
            orders=orders, cost=self.cost, rounds=_EXCHANGES * work.effort, stop=work.over
        )
        self._bounded = False
        self.in_line = limits.frequency_spread_hz is None and not len(stock.locked)

    def run(self, asked: int | None) -> list[Ints]:
        """The sets, each as sorted places in the stock; at most `asked`."""
        best: list[Ints] = []
        if self.bound.max_sets == 0:
            self.bound = Bound(max_sets=0, proved=True)
            return best
        for sets in self._attempts(asked):
            if len(sets) <= len(best):
                continue
            ordered = self._with_orders(sets)
            if len(ordered) > len(best):
                best = ordered
                self._tell(0.8, best)
            most = self.bound.max_sets if asked is None else min(asked, self.bound.max_sets)
            if len(best) >= most or (best and self.work.over()):
                break
        if not best and asked != 1 and asks_order(self.limits):
            self.mender.rounds = _EXCHANGES * self.work.effort
            return self.run(1)
        best = best or self._any_one()
        found = self.bound.max_sets
        self.bound = Bound(max_sets=found, proved=len(best) >= found)
        return best

    def _any_one(self) -> list[Ints]:
        """Of a small stock, the first set of all that has an order."""
        blades, slots = len(self.stock), self.limits.slots
        if not asks_order(self.limits) or math.comb(blades, slots) > _MOST_SETS:
            return []
        for chosen in combinations(range(blades), slots):
            set_ = np.array(chosen, dtype=np.intp)
            if self.mender.orders.has(set_, first=True):
                return [set_]
        return []

    def drawn(self, sets: list[Ints]) -> Drawn:
        """The sets by place in the pool, with what is known of the bound."""
        return Drawn(
            sets=tuple(tuple(self.stock.places[blades].tolist()) for blades in sets),
            bound=self.bound,
            left_out=self.stock.left_out,
        )

    def _tell(self, done: float, sets: list[Ints]) -> None:
        told = f"{len(sets)} sets drawn, at most {self.bound.max_sets} possible"
        self.work.report(done, told, self.drawn(sets))

    def _with_orders(self, sets: list[Ints]) -> list[Ints]:
        """The sets that have an order, mended where need be; the locked blades' set first."""
        if not sets or not asks_order(self.limits):
            return sets
        mended = self.mender.mend(sets)
        if len(self.stock.locked) and mended and mended[0] is None:
            return []
        return [set_ for set_ in mended if set_ is not None]

    def _attempts(self, asked: int | None) -> Iterator[list[Ints]]:
        """Sets inside the spreads, the most promising first."""
        reach = moment_reach_g_mm(self.limits)
        if self.in_line:
            yield from self._lines(asked, reach)
        else:
            yield self._boxed(asked, reach)
        if not asks_order(self.limits):
            return
        most = self.bound.max_sets if asked is None else min(asked, self.bound.max_sets)
        spread = min(reach, float(np.ptp(self.stock.moment_g_mm)))
        if self.limits.opposite_g_mm is not None and not len(self.stock.locked):
            yield self._paired(most, spread)
        yield self._boxed(most, reach, easy=False)
        for part in _NARROWER:
            yield self._boxed(most, spread * part, easy=False)
        limits = (self.limits.neighbour_g_mm, self.limits.opposite_g_mm)
        yield self._boxed(most, min([spread, *(x for x in limits if x is not None)]))
        yield self._one_by_one(most, reach)
        # Fewer sets leave more blades to exchange.
        for fewer in range(most - 1, most - 4, -1):
            if fewer > 0:
                yield self._boxed(fewer, reach, easy=False)

    def _one_by_one(self, most: int, reach: float) -> list[Ints]:
        """Sets mended one after the other, each from all blades that are left."""
        taken = np.zeros(len(self.stock), dtype=np.bool_)
        found: list[Ints] = []
        while len(found) < most and not self.work.over():
            mended = self._next_one(len(found), taken, reach)
            if mended is None:
                break
            found.append(mended)
            taken[mended] = True
        return found

    def _next_one(self, number: int, taken: Flags, reach: float) -> Ints | None:
        """One set more with an order, from blades not taken; several starts are mended."""
        for sets in self._starts(number, taken, reach):
            mender = replace(self.mender, rounds=60 * self.work.effort, taken=taken)
            mended = mender.mend(sets[:1], first=number)[0] if sets else None
            if mended is not None:
                return mended
        return None

    def _starts(self, number: int, taken: Flags, reach: float) -> Iterator[list[Ints]]:
        """One set at a time, inside the spreads, from blades not taken."""
        locked = self.stock.locked if number == 0 else self.stock.locked[:0]
        spread = min(reach, float(np.ptp(self.stock.moment_g_mm)))
        if self.limits.opposite_g_mm is not None and not len(self.stock.locked):
            yield self._paired(1, spread, taken)
        for height, cost in ((reach, self.cost), (reach, -self.cost), (spread / 2, -self.cost)):
            boxes = limit_boxes(self.stock, self.limits.slots, self.reach_hz, height) & ~taken
            puzzle = _puzzle(boxes, locked, self.limits.slots)
            packer = Packer(puzzle, self._where, cost, self.work)
            yield _members(packer.pack(1), locked)

    def _paired(self, most: int, reach: float, taken: Flags | None = None) -> list[Ints]:
        """Sets made of pairs that may face each other."""
        slots = self.limits.slots
        paired = close_pairs(self.stock, self.limits.opposite_g_mm or 0.0, self.reach_hz)
        boxes = limit_boxes(self.stock, slots, self.reach_hz, reach)
        if taken is not None:
            paired = paired[~taken[paired].any(axis=1)]
        puzzle = Puzzle(boxes=boxes, slots=slots)
        return pack_pairs(puzzle, paired, self._where, self.cost, most, self.work)

    def _lines(self, asked: int | None, reach: float) -> Iterator[list[Ints]]:
        """Sets where only moments count: their largest number is known exactly."""
        plain = [np.sort(run) for run in runs(self.stock, self.limits)]
        most = min(self.bound.max_sets, len(runs(self.stock, self.limits, wide=True)))
        self.bound = Bound(max_sets=most, proved=False)
        wanted = len(plain) if asked is None else min(asked, len(plain))
        if wanted and np.isfinite(reach):
            eased = self._boxed(wanted, reach)
            if len(eased) == wanted:
                yield eased
        elif wanted:
            yield self._compact(wanted)
        if self.limits.opposite_g_mm is not None:
            paired = np.sort(pairs(self.stock.moment_g_mm, self.limits.opposite_g_mm).ravel())
            within = runs(self.stock.only(paired), self.limits)
            yield [np.sort(paired[run]) for run in within[:asked]]
        yield plain[:asked]

    def _compact(self, wanted: int) -> list[Ints]:
        """Runs of neighbouring moments, narrow and far from the easy blades."""
        order = np.argsort(self.stock.moment_g_mm, kind="stable")
        spare = len(order) - wanted * self.limits.slots
        if spare < self.limits.slots:
            easiest = np.argsort(-self.cost[order], kind="stable")[:spare]
            order = np.delete(order, easiest)
        width = max(float(np.ptp(self.stock.moment_g_mm)), 1e-12)
        found = []
        for _ in range(wanted):
            windows = np.lib.stride_tricks.sliding_window_view(order, self.limits.slots)
            values = self.stock.moment_g_mm[windows]
            score = self.cost[windows].mean(axis=1) + (values[:, -1] - values[:, 0]) / width
            if spare < self.limits.slots:
                score[1:] = np.inf
            best = int(np.argmin(score))
            found.append(np.sort(windows[best]))
            order = np.delete(order, slice(best, best + self.limits.slots))
        return found

    def _boxed(self, asked: int | None, reach_g_mm: float, *, easy: bool = True) -> list[Ints]:
        """Sets inside limit boxes of this height, leaving the easy blades, or using them."""
        slots = self.limits.slots
        # Only boxes of the full height bound the number of sets.
        if reach_g_mm < moment_reach_g_mm(self.limits) or self._bounded:
            boxes = limit_boxes(self.stock, slots, self.reach_hz, reach_g_mm)
            wide = None
        else:
            boxes, wide = both_boxes(self.stock, slots, self.reach_hz, reach_g_mm)
        if not len(boxes):
            self._bound_boxes(wide, 0, quick=False)
            return []
        puzzle = _puzzle(boxes, self.stock.locked, slots)
        most = int(boxes.any(axis=0).sum()) // slots
        if asked is not None:
            most = min(asked, most)
        cost = self.cost if easy else -self.cost
        packer = Packer(puzzle, self._where, cost, self.work)
        packed = packer.pack(min(most, self.bound.max_sets))
        if packed.boxes and not asks_order(self.limits):
            self._tell(0.3, _members(packed, self.stock.locked))
        if self.limits.frequency_spread_hz is not None:
            self._bound_boxes(wide, len(packed), quick=asked is not None)
        if easy:
            packed = packer.press(packed, min(self.bound.max_sets, most))
        if packed.boxes:
            packed = leave_easy(puzzle, packed, cost, self.work)
        return _members(packed, self.stock.locked)

    @cached_property
    def _where(self) -> Floats:
        """Each blade's readings in units of their limits."""
        sides = [(self.stock.moment_g_mm, moment_reach_g_mm(self.limits))]
        if self.stock.frequency_hz is not None:
            sides.append((self.stock.frequency_hz, self.reach_hz))
        units = [
            values / max(min(reach, float(np.ptp(values))), 1e-12) for values, reach in sides
        ]
        return np.stack(units, axis=1)

    def _bound_boxes(self, boxes: Masks | None, found: int, *, quick: bool) -> None:
        """Tighten the bound by the relaxation over the limit boxes, once."""
        if boxes is None or self.bound.max_sets <= found:
            return
        self._bounded = True
        labour = LITTLE_LABOUR if quick else USUAL_LABOUR * self.work.effort / USUAL_EFFORT
        most = relax(
            boxes, self.limits.slots, enough=found, labour=labour, over=self.work.over
        ).max_sets
        self.bound = Bound(max_sets=min(self.bound.max_sets, most), proved=False)
        self.work.report(0.5, f"at most {self.bound.max_sets} sets", None)


def _puzzle(boxes: Masks, locked: Ints, slots: int) -> Puzzle:
    """The boxes without the locked blades, and which of them may be the first set's."""
    if not len(locked):
        return Puzzle(boxes=boxes, slots=slots)
    first = np.flatnonzero(boxes[:, locked].all(axis=1))
    free = boxes.copy()
    free[:, locked] = False
    return Puzzle(boxes=free, slots=slots, first=first, locked=len(locked))


def _members(packed: Packed, locked: Ints) -> list[Ints]:
    """The blades of each set, the locked ones in the first."""
    if not packed.sets:
        return []
    first = np.sort(np.concatenate([packed.sets[0], locked])).astype(np.intp)
    return [first, *(np.sort(set_) for set_ in packed.sets[1:])]

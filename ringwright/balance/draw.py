"""Draw sets from a stock: as many as it allows, or as many as are asked for.

Limit boxes are placed first (`draw_fit`), then blades are handed out (`draw_share`) so that the
blades left behind are easy to place later. The number drawn stands beside a bound (`bound`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ringwright.balance.bound import LITTLE_LABOUR, USUAL_LABOUR, Bound, relax, runs, wide_boxes
from ringwright.balance.draw_fit import Puzzle
from ringwright.balance.draw_leave import leave_easy
from ringwright.balance.draw_pack import Packer
from ringwright.balance.draw_share import ease
from ringwright.balance.draw_stock import (
    Masks,
    Stock,
    eligible,
    frequency_reach_hz,
    limit_boxes,
    moment_reach_g_mm,
)
from ringwright.balance.limits import Limits
from ringwright.balance.pool import Floats, Ints, Pool
from ringwright.balance.work import USUAL_EFFORT, Work
from ringwright.core.errors import Refused


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """Sets of blades, each unordered, by place in the pool."""

    sets: tuple[tuple[int, ...], ...]
    """With locks, the first set holds the locked blades; the others know no locks."""
    bound: Bound
    left_out: tuple[tuple[str, str], ...] = ()
    """Serial and reason of each blade that could not enter any set."""


def draw_sets(pool: Pool, limits: Limits, work: Work, *, sets: int | None) -> Drawn:
    """Draw `sets` sets, or with None as many as the stock allows.

    Raises Refused when fewer are possible or found, and says how many.
    """
    if sets is not None and sets < 1:
        raise Refused("at least one set must be asked for")
    stock = eligible(pool, limits)
    search = _Search(stock, limits, work)
    found = search.run(sets)
    drawn = Drawn(
        sets=tuple(tuple(stock.places[blades].tolist()) for blades in found),
        bound=search.bound,
        left_out=stock.left_out,
    )
    if len(found) < (sets or 1):
        raise Refused(_too_few(stock, limits, len(found), sets or 1, search.bound))
    return drawn


def _too_few(stock: Stock, limits: Limits, found: int, asked: int, bound: Bound) -> str:
    """One line that says what can be had instead."""
    if len(stock) < limits.slots:
        out = f" ({len(stock.left_out)} are left out)" if stock.left_out else ""
        return f"a set needs {limits.slots} blades and only {len(stock)} may enter{out}"
    at_most = "proved" if bound.max_sets <= found else f"and never more than {bound.max_sets}"
    return f"{asked} sets were asked for; {found} can be drawn, {at_most}"


class _Search:
    """One drawing: the puzzle, what was found, and the bound."""

    def __init__(self, stock: Stock, limits: Limits, work: Work) -> None:
        self.stock = stock
        self.limits = limits
        self.work = work
        self.bound = Bound(max_sets=len(stock) // limits.slots, proved=False)
        self.reach_hz = frequency_reach_hz(limits)
        self.reach_g_mm = moment_reach_g_mm(limits)
        self.cost = ease(stock, self.reach_hz, self.reach_g_mm)

    def run(self, asked: int | None) -> list[Ints]:
        """The sets, each as sorted places in the stock."""
        if len(self.stock) < self.limits.slots:
            self.bound = Bound(max_sets=0, proved=True)
            return []
        if self.limits.frequency_spread_hz is None and not self.limits.locks:
            in_line = runs(self.stock, self.limits)
            most = len(runs(self.stock, self.limits, wide=True))
            self.bound = Bound(max_sets=most, proved=most == len(in_line))
            return [np.sort(run) for run in in_line[:asked]]
        slots = self.limits.slots
        boxes = limit_boxes(self.stock, slots, self.reach_hz, self.reach_g_mm)
        covered = int(boxes.any(axis=0).sum()) // slots if len(boxes) else 0
        most = covered if asked is None else min(asked, covered)
        puzzle = self._puzzle(boxes)
        packer = Packer(puzzle, self._where(), self.cost, self.work)
        packed = packer.pack(most)
        self._set_bound(len(packed), quick=asked is not None)
        packed = packer.press(packed, min(self.bound.max_sets, most))
        if packed:
            packed = leave_easy(puzzle, packed, self.cost, self.work)
        self.bound = Bound(
            max_sets=self.bound.max_sets, proved=self.bound.max_sets <= len(packed)
        )
        if not packed.sets:
            return []
        first = np.sort(np.concatenate([packed.sets[0], self.stock.locked]))
        return [first.astype(np.intp), *packed.sets[1:]]

    def _where(self) -> Floats:
        """Each blade's readings in units of their limits."""
        sides = [(self.stock.moment_g_mm, self.reach_g_mm)]
        if self.stock.frequency_hz is not None:
            sides.append((self.stock.frequency_hz, self.reach_hz))
        units = [
            values / max(min(reach, float(np.ptp(values))), 1e-12) for values, reach in sides
        ]
        return np.stack(units, axis=1)

    def _puzzle(self, boxes: Masks) -> Puzzle:
        """The boxes without the locked blades, and which of them may be the first set's."""
        locked = self.stock.locked
        if not len(locked):
            return Puzzle(boxes=boxes, slots=self.limits.slots)
        first = np.flatnonzero(boxes[:, locked].all(axis=1))
        free = boxes.copy()
        free[:, locked] = False
        return Puzzle(boxes=free, slots=self.limits.slots, first=first, locked=len(locked))

    def _set_bound(self, found: int, *, quick: bool) -> None:
        labour = LITTLE_LABOUR if quick else USUAL_LABOUR * self.work.effort / USUAL_EFFORT
        if self.limits.frequency_spread_hz is None:
            most = len(runs(self.stock, self.limits, wide=True))
        else:
            boxes = wide_boxes(self.stock, self.limits)
            most = relax(boxes, self.limits.slots, enough=found, labour=labour).max_sets
        self.bound = replace(self.bound, max_sets=min(self.bound.max_sets, most))

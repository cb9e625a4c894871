"""How many sets a stock can give at most: a bound that is shown at once and always holds.

For any weights w >= 0 of the blades, no set weighs less than c, the lightest N blades of any
one limit box; so there are at most sum(w)/c sets. The best weights are the dual prices of the
linear relaxation over the maximal limit boxes (each set a column; Gilmore & Gomory 1961,
"A linear programming approach to the cutting-stock problem", Operations Research 9). They are
found by adding the lightest sets as columns until the floored bound cannot fall any more. The
bound is evaluated in whole numbers, so that no rounding can make it too low.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ringwright.balance.draw_stock import (
    SLACK,
    Masks,
    Stock,
    eligible,
    frequency_reach_hz,
    limit_boxes,
    moment_reach_g_mm,
)
from ringwright.balance.limits import Limits
from ringwright.balance.pool import Floats, Ints, Pool
from ringwright.balance.solver import QuietHighs

USUAL_LABOUR, LITTLE_LABOUR = 4e7, 1e6
"""Labour of a bound in multiplications of the linear programmes: some seconds, a moment."""
# Columns added in a round at most, and kept for each blade.
_COLUMNS, _KEPT = 60, 8
# Rounds of the cheap search for prices before the first programme, and sets kept of each.
_WARM, _WARM_SETS, _WARM_SEEN = 50, 15, 40
_WHOLE = 10**9
_OUTSIDE = 1e12


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """No more than `max_sets`; `proved` when so many can really be drawn."""

    max_sets: int
    proved: bool


@dataclass(frozen=True, kw_only=True)
class Relaxed:
    """What the relaxation taught: the bound, and the weights that prove it."""

    max_sets: int
    value: float
    """The bound before flooring."""
    weights: Floats
    """Price of each blade; no set inside one box is cheaper than 1."""


def upper_bound(pool: Pool, limits: Limits, *, labour: float = USUAL_LABOUR) -> Bound:
    """A number of sets that the stock cannot exceed, valid whatever the other rules are."""
    stock = eligible(pool, limits)
    most = ring_bound(stock, limits)
    if limits.frequency_spread_hz is None:
        most = min(most, len(runs(stock, limits, wide=True)))
    else:
        boxes = wide_boxes(stock, limits)
        most = min(most, relax(boxes, limits.slots, labour=labour).max_sets)
    return Bound(max_sets=most, proved=False)


def ring_bound(stock: Stock, limits: Limits) -> int:
    """A bound from counting: blades, pairs fit to face each other, equal frequencies."""
    most = len(stock) // limits.slots
    if limits.opposite_g_mm is not None:
        close = pairs(stock.moment_g_mm, limits.opposite_g_mm, wide=True)
        most = min(most, len(close) // (limits.slots // 2))
    if limits.alternate and stock.frequency_hz is not None:
        # At most half a set may have one and the same frequency, or it lies on the median.
        _, counts = np.unique(stock.frequency_hz, return_counts=True)
        half = limits.slots // 2
        while most and np.minimum(counts, most * half).sum() < most * limits.slots:
            most -= 1
    return most


def pairs(moments: Floats, most_apart: float, *, wide: bool = False) -> Ints:
    """As many disjoint pairs as possible no further apart than this, shape (pairs, 2).

    Exact: on a line the two lightest that are close enough may always be paired.
    """
    order = np.argsort(moments, kind="stable")
    reach = most_apart + (SLACK * float(np.abs(moments).max(initial=0.0)) if wide else 0.0)
    found, at = [], 0
    while at + 1 < len(order):
        if moments[order[at + 1]] - moments[order[at]] <= reach:
            found.append((order[at], order[at + 1]))
            at += 2
        else:
            at += 1
    return np.array(found, dtype=np.intp).reshape(-1, 2)


def wide_boxes(stock: Stock, limits: Limits) -> Masks:
    """The limit boxes with the slack that a bound needs."""
    reach_hz, reach_g_mm = frequency_reach_hz(limits), moment_reach_g_mm(limits)
    return limit_boxes(stock, limits.slots, reach_hz, reach_g_mm, wide=True)


def runs(stock: Stock, limits: Limits, *, wide: bool = False) -> tuple[Ints, ...]:
    """Most sets when moments alone count: neighbours in ascending order, as early as possible.

    Exact: disjoint sets within a spread (and a neighbour limit, whose smallest possible value
    is the largest step over one blade) can be exchanged into runs without a gap.
    """
    order = np.argsort(stock.moment_g_mm, kind="stable")
    values = stock.moment_g_mm[order]
    slots = limits.slots
    slack = SLACK * float(np.abs(values).max(initial=0.0)) if wide else 0.0
    reach = moment_reach_g_mm(limits) + slack
    step = math.inf if limits.neighbour_g_mm is None else limits.neighbour_g_mm + slack
    over = min(2, slots - 1)
    found, begin = [], 0
    while begin + slots <= len(values):
        run = values[begin : begin + slots]
        if run[-1] - run[0] <= reach and (run[over:] - run[:-over]).max() <= step:
            found.append(order[begin : begin + slots])
            begin += slots
        else:
            begin += 1
    return tuple(found)


def relax(
    boxes: Masks,
    slots: int,
    *,
    enough: int = 0,
    labour: float = USUAL_LABOUR,
    sharp: bool = False,
    over: Callable[[], bool] = lambda: False,
) -> Relaxed:
    """Bound the number of sets inside the boxes; stops early once it is `enough` or fewer.

    `labour` is a measure of work, not of time, so that an answer repeats; `sharp` goes on when
    only the digits after the point can still fall.
    """
    prices: Floats = np.asarray(boxes.any(axis=0) / slots, dtype=np.float64)
    best = _weighed(boxes, slots, prices, None)
    if best.max_sets <= enough or not len(boxes):
        return best
    rounds = min(_WARM, max(1, int(labour / _pricing(boxes))))
    best, columns = _warm(boxes, slots, prices, best, rounds)
    labour -= rounds * _pricing(boxes)
    value = 0.0
    if labour > 0 and (best.max_sets > enough or sharp):
        value, prices = _solve_master(columns, len(prices))
        best = _weighed(boxes, slots, prices, best)
    while labour > 0 and not over():
        if best.max_sets <= enough or best.value - value < 1e-4:
            break
        if best.max_sets <= math.floor(value + 1e-6) and not sharp:
            break
        # Half way to the best prices known steadies the search; the prices alone decide
        # when that teaches nothing.
        steady = (prices + best.weights) / 2.0
        best = _weighed(boxes, slots, steady, best)
        grown = _more_columns(boxes, columns, steady)
        if grown is None:
            grown = _more_columns(boxes, columns, prices)
        if grown is None:
            break
        columns = grown
        labour -= columns.size * slots
        value, prices = _solve_master(columns, len(prices))
        best = _weighed(boxes, slots, prices, best)
    return best


def _pricing(boxes: Masks) -> float:
    """Labour of finding the lightest sets once, against a multiplication of a programme."""
    return boxes.size / 5.0


def _warm(
    boxes: Masks, slots: int, prices: Floats, best: Relaxed, rounds: int
) -> tuple[Relaxed, Ints]:
    """Prices nearly right, and the sets met on the way.

    Blades in many of the lightest sets grow dearer, the others cheaper (multiplicative weights;
    N. Garg & J. Könemann, SIAM Journal on Computing 37, 2007).
    """
    met = []
    sold = prices > 0
    for round_ in range(rounds):
        chosen, sums = _lightest(boxes, slots, prices)
        seen = np.argsort(sums, kind="stable")[:_WARM_SEEN]
        met.append(np.sort(chosen[seen[:_WARM_SETS]], axis=1))
        best = _weighed(boxes, slots, prices / sums[seen[0]], best)
        often = np.bincount(chosen[seen].ravel(), minlength=len(prices)) / len(seen)
        prices = prices * np.exp(0.6 / math.sqrt(round_ + 1) * (often - often[sold].mean()))
    return best, np.unique(np.concatenate(met), axis=0)


def _more_columns(boxes: Masks, columns: Ints, weights: Floats) -> Ints | None:
    """The lightest columns known and the lightest new sets of the boxes; None: nothing new."""
    chosen, sums = _lightest(boxes, columns.shape[1], weights)
    known = set(map(tuple, columns.tolist()))
    fresh: list[tuple[int, ...]] = []
    for set_, sum_ in zip(*_sorted(chosen, sums), strict=True):
        if tuple(set_) not in known and (sum_ < 1.0 or not len(columns)):
            known.add(tuple(set_))
            fresh.append(tuple(set_))
        if len(fresh) == _COLUMNS:
            break
    if not fresh:
        return None
    kept = np.argsort(weights[columns].sum(axis=1), kind="stable")[: _KEPT * len(weights)]
    return np.concatenate([columns[np.sort(kept)], np.array(fresh, dtype=np.intp)])


def _sorted(chosen: Ints, sums: Floats) -> tuple[list[list[int]], list[float]]:
    """Sets by weight, the lightest first."""
    order = np.argsort(sums, kind="stable")
    return np.sort(chosen[order], axis=1).tolist(), sums[order].tolist()


def _lightest(boxes: Masks, slots: int, weights: Floats) -> tuple[Ints, Floats]:
    """The N lightest blades of each box, and what they weigh together."""
    inside = np.where(boxes, weights, _OUTSIDE)
    chosen = np.argpartition(inside, slots - 1, axis=1)[:, :slots]
    return chosen, np.take_along_axis(inside, chosen, axis=1).sum(axis=1)


def _weighed(boxes: Masks, slots: int, weights: Floats, best: Relaxed | None) -> Relaxed:
    """The bound these weights prove, or the better one known before."""
    if not len(boxes):
        return Relaxed(max_sets=0, value=0.0, weights=weights)
    whole = np.rint(weights * _WHOLE).astype(np.int64)
    huge = np.int64(2**40)
    inside = np.where(boxes, whole, huge)
    lightest = int(np.partition(inside, slots - 1, axis=1)[:, :slots].sum(axis=1).min())
    total = int(whole.sum())
    if lightest <= 0 or (best is not None and total / lightest >= best.value):
        if best is None:
            raise AssertionError("even weights weigh something in every box")
        return best
    return Relaxed(
        max_sets=total // lightest,
        value=total / lightest,
        weights=whole / lightest,
    )


def _solve_master(columns: Ints, blades: int) -> tuple[float, Floats]:
    """Most sets from these columns alone, in fractions, and the price of each blade.

    Interior points without crossover: prices in the middle of the optimal face need a tenth of
    the rounds that prices at a corner need, and a bound may rest on any prices.
    """
    solver = QuietHighs()
    solver.setOptionValue("solver", "ipm")
    solver.setOptionValue("run_crossover", "off")
    solver.setOptionValue("presolve", "off")
    solver.setOptionValue("ipm_optimality_tolerance", 1e-3)
    count, slots = columns.shape
    none = np.empty(0, dtype=np.int32)
    starts = np.zeros(blades, dtype=np.int32)
    below, above = np.full(blades, -np.inf), np.ones(blades)
    solver.addRows(blades, below, above, 0, starts, none, np.empty(0))
    starts = (np.arange(count) * slots).astype(np.int32)
    rows = columns.ravel().astype(np.int32)
    cost, least, most = -np.ones(count), np.zeros(count), np.full(count, np.inf)
    size = count * slots
    solver.addCols(count, cost, least, most, size, starts, rows, np.ones(size))
    solver.run()
    value = -float(solver.getInfo().objective_function_value)
    prices = -np.array(solver.getSolution().row_dual, dtype=np.float64)
    return value, np.maximum(prices, 0.0)

"""The proof of the largest number of sets, by mixed-integer programming (HiGHS).

One integer per limit box says how many sets lie in it, one number per blade and box what part
of the blade they use: with whole boxes the blades come out whole, as in every transport
problem. Boxes that a further set cannot afford at the prices of the relaxation are left out
first (fixing by reduced costs; G. Dantzig, R. Fulkerson & S. Johnson 1954). How many boxes
begin left of a reading is an integer too: branching on that tells neighbouring boxes apart
sooner than branching on one box.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import highspy
import numpy as np

from ringwright.balance.bound import USUAL_LABOUR, Bound, relax, wide_boxes
from ringwright.balance.draw import Drawn, draw_sets
from ringwright.balance.draw_order import Orders, asks_order
from ringwright.balance.draw_share import ease, share
from ringwright.balance.draw_stock import (
    Masks,
    Stock,
    eligible,
    frequency_reach_hz,
    moment_reach_g_mm,
)
from ringwright.balance.limits import Limits
from ringwright.balance.pool import Floats, Ints, Pool
from ringwright.balance.solver import QuietHighs
from ringwright.balance.work import Work

_LABOUR = 20 * USUAL_LABOUR


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """Whether so many sets fit into the boxes: some boxes, a proof that none do, or neither."""

    boxes: Ints | None
    decided: bool


def prove(pool: Pool, limits: Limits, work: Work) -> Bound:
    """The largest number of sets, proved unless the work was stopped."""
    return improve(pool, limits, work, draw_sets(pool, limits, work, sets=None)).bound


def improve(pool: Pool, limits: Limits, work: Work, drawn: Drawn) -> Drawn:
    """The most sets drawn, or more of them, the bound brought down as far as can be proved.

    `drawn` must come from a drawing of as many sets as possible.
    """
    if drawn.bound.proved or limits.frequency_spread_hz is None:
        return drawn
    stock = eligible(pool, limits)
    boxes = wide_boxes(stock, limits)
    work.report(0.0, "bounding the number of sets", drawn)
    relaxed = relax(
        boxes, limits.slots, enough=len(drawn.sets), labour=_LABOUR, sharp=True, over=work.over
    )
    most = min(drawn.bound.max_sets, relaxed.max_sets)
    while most > len(drawn.sets) and not work.over():
        kept = affordable(boxes, limits.slots, relaxed.weights, relaxed.value - most)
        verdict = fits(boxes[kept], stock, limits.slots, most, work)
        if verdict.boxes is not None:
            drawn = _better(pool, stock, limits, drawn, boxes[kept][verdict.boxes])
            break
        if not verdict.decided:
            break
        most -= 1
        work.report(0.0, f"no more than {most} sets: proved", drawn)
    return replace(drawn, bound=Bound(max_sets=most, proved=most <= len(drawn.sets)))


def affordable(boxes: Masks, slots: int, prices: Floats, over: float) -> Ints:
    """The boxes whose cheapest set costs at most `over` more than 1; no others can be used.

    Every set costs at least 1, and all blades together cost 1 a set and `over` for the lot.
    """
    inside = np.where(boxes, prices, np.inf)
    cheapest = np.sort(inside, axis=1)[:, :slots].sum(axis=1)
    return np.flatnonzero(cheapest <= 1.0 + over + 1e-6)


def _better(pool: Pool, stock: Stock, limits: Limits, drawn: Drawn, boxes: Masks) -> Drawn:
    """The sets of these boxes, when they are more and all of them can be ordered."""
    needs = np.full(len(boxes), limits.slots, dtype=np.intp)
    cost = ease(stock, frequency_reach_hz(limits), moment_reach_g_mm(limits))
    sets = share(boxes, needs, cost)
    if sets is None or len(stock.locked):
        return drawn
    orders = Orders(pool=pool, stock=stock, limits=limits)
    if not np.all(orders.excess(np.stack(sets)) < np.inf):
        return drawn
    if asks_order(limits) and not all(orders.has(set_, first=False) for set_ in sets):
        return drawn
    return replace(drawn, sets=tuple(tuple(stock.places[s].tolist()) for s in sets))


def fits(boxes: Masks, stock: Stock, slots: int, count: int, work: Work) -> Verdict:
    """Whether `count` sets fit into the boxes at once."""
    if not len(boxes):
        return Verdict(boxes=None, decided=True)
    solver = QuietHighs()
    _state(solver, boxes, slots, count)
    for values in (stock.moment_g_mm, stock.frequency_hz):
        if values is not None:
            begins = np.where(boxes, values, np.inf).min(axis=1)
            _count_left_of_each(solver, begins, count)
    _watch(solver, work, f"is a set number {count} possible?")
    solver.run()
    status = solver.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        return Verdict(boxes=None, decided=True)
    if status != highspy.HighsModelStatus.kOptimal:
        return Verdict(boxes=None, decided=False)
    numbers = np.rint(np.array(solver.getSolution().col_value)[: len(boxes)]).astype(np.intp)
    return Verdict(boxes=np.repeat(np.arange(len(boxes)), numbers), decided=True)


def _state(solver: QuietHighs, boxes: Masks, slots: int, count: int) -> None:
    """Variables: sets of each box, then the part of each blade that each box uses."""
    owners, blades = np.nonzero(boxes)
    many, uses = len(boxes), len(owners)
    held = boxes.sum(axis=1)
    most = np.concatenate([held // slots, np.ones(uses)]).astype(np.float64)
    solver.addVars(many + uses, np.zeros(many + uses), most)
    whole = np.full(many, highspy.HighsVarType.kInteger)
    solver.changeColsIntegrality(many, np.arange(many, dtype=np.int32), whole)
    use = many + np.arange(uses)
    for box in range(many):
        mine = use[owners == box]
        _row(solver, 0.0, 0.0, [*mine, box], [1.0] * len(mine) + [-float(slots)])
    for blade in range(boxes.shape[1]):
        mine = use[blades == blade]
        if len(mine):
            _row(solver, 0.0, 1.0, [*mine], [1.0] * len(mine))
    # A blade is in no more sets of a box than the box has: what makes the relaxation tight.
    for which, box in zip(use.tolist(), owners.tolist(), strict=True):
        _row(solver, -np.inf, 0.0, [which, box], [1.0, -1.0])
    _row(solver, float(count), float(count), list(range(many)), [1.0] * many)


def _count_left_of_each(solver: QuietHighs, begins: Floats, count: int) -> None:
    """An integer for each place where boxes begin: how many sets begin there or before."""
    for place in np.unique(begins)[:-1].tolist():
        before = np.flatnonzero(begins <= place)
        solver.addVar(0.0, float(count))
        number = solver.getNumCol() - 1
        solver.changeColIntegrality(number, highspy.HighsVarType.kInteger)
        _row(solver, 0.0, 0.0, [*before, number], [1.0] * len(before) + [-1.0])


def _row(
    solver: QuietHighs, low: float, high: float, columns: list[int], values: list[float]
) -> None:
    numbers = np.array(columns, dtype=np.int32)
    solver.addRow(low, high, len(numbers), numbers, np.array(values, dtype=np.float64))


def _watch(solver: QuietHighs, work: Work, question: str) -> None:
    """Tell how far the tree is searched, and stop when the work is over."""

    def look(event: highspy.highs.HighsCallbackEvent) -> None:
        if work.over():
            event.interrupt()
        nodes = int(event.data_out.mip_node_count)
        work.report(nodes / (nodes + 200.0), f"{question} {max(nodes, 0)} branches", None)

    solver.cbMipInterrupt.subscribe(look)
    solver.cbSimplexInterrupt.subscribe(lambda event: event.interrupt(work.over()))

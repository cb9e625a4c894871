"""What one more blade would give, and of which kind it must be.

Boxes for one set more than was drawn are placed so that they lack as few blades as possible.
A blade that lies in a box which every short group of boxes shares fills them all (P. Hall,
J. London Math. Soc. 10, 1935). When one blade is not enough, more of one kind are tried.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.balance.draw import Drawn
from ringwright.balance.draw_fit import MOST_TOGETHER, Fitter, Puzzle
from ringwright.balance.draw_stock import (
    Masks,
    Stock,
    eligible,
    frequency_reach_hz,
    limit_boxes,
    maximal,
    moment_reach_g_mm,
)
from ringwright.balance.limits import Limits
from ringwright.balance.pool import Floats, Ints, Pool

_MOST_WANTS = 3
_TRIES, _ROUNDS, _MOST_BOXES = 4, 20, 300
# How many blades of one kind are tried.
_BLADES = (1, 2, 3, 4, 6, 8, 11, 15, 20)


@dataclass(frozen=True, slots=True, kw_only=True)
class Want:
    """So many blades of this kind would give one set more, as far as the spreads decide."""

    blades: int
    sets: int
    """Sets there would be then."""
    frequency_hz: tuple[float, float] | None
    """Where the frequency must lie; None: anywhere."""
    moment_g_mm: tuple[float, float] | None
    """Where the moment must lie; None: anywhere."""
    share: float
    """Part of today's stock that is of this kind: how likely the next blade is."""


def one_more(pool: Pool, limits: Limits, drawn: Drawn) -> tuple[Want, ...]:
    """The fewest blades found that give one set more, the likeliest kinds first."""
    stock = eligible(pool, limits)
    if limits.frequency_spread_hz is None and not np.isfinite(moment_reach_g_mm(limits)):
        lacking = (len(drawn.sets) + 1) * limits.slots - len(stock)
        anything = Want(
            blades=max(lacking, 1),
            sets=len(drawn.sets) + 1,
            frequency_hz=None,
            moment_g_mm=None,
            share=1.0,
        )
        return (anything,)
    least = (len(drawn.sets) + 1) * limits.slots - len(stock)
    for blades in _BLADES:
        if not least <= blades < limits.slots:
            continue
        found = _wants(stock, limits, drawn, blades, pool)
        if found:
            return found
    return ()


def _wants(
    stock: Stock, limits: Limits, drawn: Drawn, blades: int, pool: Pool
) -> tuple[Want, ...]:
    """Kinds of which so many blades give one set more."""
    reach_hz, reach_g_mm = frequency_reach_hz(limits), moment_reach_g_mm(limits)
    boxes = limit_boxes(stock, limits.slots - blades, reach_hz, reach_g_mm)
    sets = _sets(stock, drawn, len(pool))
    rng = np.random.default_rng(blades)
    found: dict[tuple[object, ...], Want] = {}
    for _ in range(_TRIES):
        free, count = _taken_apart(stock, sets, rng)
        for box in _short_boxes(boxes & free, limits.slots, count, blades, rng):
            want = _want(stock, limits, boxes[box], blades, len(sets) + 1)
            found[(want.frequency_hz, want.moment_g_mm)] = want
    likeliest = sorted(found.values(), key=lambda want: -want.share)
    return tuple(likeliest[:_MOST_WANTS])


def _sets(stock: Stock, drawn: Drawn, blades: int) -> list[Ints]:
    """The drawn sets by place in the stock."""
    place = np.full(blades, -1, dtype=np.intp)
    place[stock.places] = np.arange(len(stock))
    return [place[np.array(set_)] for set_ in drawn.sets]


def _taken_apart(stock: Stock, sets: list[Ints], rng: np.random.Generator) -> tuple[Masks, int]:
    """Blades to place anew, and the sets to make of them: one more than were taken apart."""
    movable = [set_ for set_ in sets if not np.isin(stock.locked, set_).any()]
    free = np.ones(len(stock), dtype=np.bool_)
    for set_ in sets:
        free[set_] = False
    if len(movable) >= MOST_TOGETHER:
        loose = np.flatnonzero(free) if free.any() else np.arange(len(stock))
        away = _away(stock, movable, int(rng.choice(loose)))
        near = np.argsort(away, kind="stable")[: MOST_TOGETHER - 1]
        movable = [movable[number] for number in near.tolist()]
    for set_ in movable:
        free[set_] = True
    return free, len(movable) + 1


def _away(stock: Stock, sets: list[Ints], blade: int) -> Floats:
    """How far each set's middle is from a blade, in spreads of the stock."""
    away = np.zeros(len(sets))
    for values in (stock.moment_g_mm, stock.frequency_hz):
        if values is not None:
            middles = np.array([values[set_].mean() for set_ in sets])
            width = max(float(np.ptp(values)), 1e-12)
            away = np.maximum(away, np.abs(middles - values[blade]) / width)
    return away


def _short_boxes(
    boxes: Masks, slots: int, count: int, blades: int, rng: np.random.Generator
) -> list[int]:
    """Boxes that fill `count` sets once so many blades are added to one of them."""
    kept = np.flatnonzero(boxes.sum(axis=1) >= slots - blades)
    kept = kept[maximal(boxes[kept])]
    if not len(kept):
        return []
    if len(kept) > _MOST_BOXES:
        kept = np.sort(rng.choice(kept, size=_MOST_BOXES, replace=False))
    part = boxes[kept]
    chosen = Fitter(Puzzle(boxes=part, slots=slots), rng).fit(count, _ROUNDS, blades)
    if chosen is None:
        return []
    union = np.zeros((1, part.shape[1]), dtype=np.bool_)
    members = np.zeros((1, count), dtype=np.bool_)
    for number, box in enumerate(chosen):
        joined = members.copy()
        joined[:, number] = True
        union = np.concatenate([union, union | part[box]])
        members = np.concatenate([members, joined])
    short = members.sum(axis=1) * slots - union.sum(axis=1) > 0
    if not short.any():
        return []
    shared = members[short].all(axis=0)
    return [int(kept[chosen[number]]) for number in np.flatnonzero(shared)]


def _want(stock: Stock, limits: Limits, box: Masks, blades: int, sets: int) -> Want:
    """Where a blade must lie to be in the box with all its blades."""
    frequency = None
    inside = np.ones(len(stock), dtype=np.bool_)
    if stock.frequency_hz is not None and limits.frequency_spread_hz is not None:
        frequency = _room(stock.frequency_hz[box], limits.frequency_spread_hz)
        inside &= (frequency[0] <= stock.frequency_hz) & (stock.frequency_hz <= frequency[1])
    moment = None
    reach = moment_reach_g_mm(limits)
    if np.isfinite(reach):
        moment = _room(stock.moment_g_mm[box], reach)
        inside &= (moment[0] <= stock.moment_g_mm) & (stock.moment_g_mm <= moment[1])
    return Want(
        blades=blades,
        sets=sets,
        frequency_hz=frequency,
        moment_g_mm=moment,
        share=float(inside.mean()),
    )


def _room(values: Floats, reach: float) -> tuple[float, float]:
    """The interval that keeps the spread, a hair inside so that rounding cannot break it."""
    low, high = float(values.max()) - reach, float(values.min()) + reach
    hair = 1e-12 * max(abs(low), abs(high))
    return min(low + hair, high), max(high - hair, low)

"""Say why no set, or fewer sets than asked, can be drawn, and what would be possible."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, Decimal
from typing import NoReturn

import numpy as np

from ringwright.balance.bound import Bound, pairs
from ringwright.balance.draw_stock import (
    Masks,
    Stock,
    eligible,
    frequency_reach_hz,
    limit_boxes,
    moment_reach_g_mm,
)
from ringwright.balance.feasible import check_set, first_order
from ringwright.balance.feasible import refuse as refuse_order
from ringwright.balance.limits import Impossible, Limits
from ringwright.balance.pool import Floats, Pool
from ringwright.balance.ring_rules import Aim, compile_rules
from ringwright.core.errors import Refused


def refuse_draw(
    pool: Pool, limits: Limits, *, found: int, asked: int, bound: Bound
) -> NoReturn:
    """Raise what is known when fewer sets were found than asked for."""
    stock = eligible(pool, limits)
    if len(stock) < limits.slots:
        raise Impossible(_too_few_blades(stock, limits))
    if found == 0:
        if len(stock) == limits.slots:
            _refuse_ring(pool.take(stock.places), limits)
        _refuse_one(stock, limits)
    if bound.max_sets <= found:
        raise Impossible(f"{asked} sets were asked for; no more than {found} can be drawn")
    told = f"{found} were found, and no more than {bound.max_sets} can be drawn"
    raise Refused(f"{asked} sets were asked for; {told}")


def _refuse_ring(blades: Pool, limits: Limits) -> None:
    """Raise why these blades, the only set there is, have no order."""
    check_set(blades, limits)
    rules = compile_rules(blades, limits, Aim())
    if first_order(rules) is None:
        refuse_order(rules)


def _too_few_blades(stock: Stock, limits: Limits) -> str:
    reasons = sorted({reason for _, reason in stock.left_out})
    counts = [f"{sum(r == reason for _, r in stock.left_out)} {reason}" for reason in reasons]
    out = f" (left out: {', '.join(counts)})" if counts else ""
    return f"a set takes {limits.slots} blades and {len(stock)} can enter{out}"


def _refuse_one(stock: Stock, limits: Limits) -> None:
    """Raise the smallest feasible limit when not even one set is possible."""
    reach_hz, reach_g_mm = frequency_reach_hz(limits), moment_reach_g_mm(limits)
    spread = limits.moment_spread_g_mm
    if _some(stock, limits, reach_hz, math.inf if spread is None else spread):
        if limits.neighbour_g_mm is not None:
            _refuse_neighbour(stock, limits)
        if limits.opposite_g_mm is not None:
            _refuse_opposite(stock, limits)
        if _some(stock, limits, reach_hz, reach_g_mm):
            raise Refused(
                "no set was found that can be ordered under these limits, and none is proved"
                " impossible"
            )
    locked = " with the locked blades" if len(stock.locked) else ""
    none = f"no {limits.slots} blades{locked} lie within"
    if spread is None:
        least = smallest_frequency_spread(stock, limits.slots, math.inf)
        told = f"the smallest frequency spread of a set is {_told(least, 'Hz')}"
        raise Impossible(f"{none} {reach_hz:.10g} Hz; {told}", least)
    least = smallest_moment_spread(stock, limits.slots, reach_hz)
    if not math.isfinite(reach_hz):
        told = f"the smallest moment spread of a set is {_told(least, 'g·mm')}"
        raise Impossible(f"{none} {spread:.10g} g·mm; {told}", least)
    least_hz = smallest_frequency_spread(stock, limits.slots, spread)
    raise Impossible(
        f"{none} {reach_hz:.10g} Hz and {spread:.10g} g·mm; smallest moment spread within"
        f" {reach_hz:.10g} Hz: {_told(least, 'g·mm')}; smallest frequency spread within"
        f" {spread:.10g} g·mm: {_told(least_hz, 'Hz')}",
        least if math.isfinite(least) else least_hz,
    )


def _told(value: float, unit: str) -> str:
    """The value rounded up, so that what is told can be kept."""
    if not math.isfinite(value):
        return "none"
    exact = Decimal(value)
    step = Decimal(1).scaleb(exact.adjusted() - 9) if exact else Decimal(1)
    return f"{float(exact.quantize(step, rounding=ROUND_CEILING)):.10g} {unit}"


def _some(stock: Stock, limits: Limits, reach_hz: float, reach_g_mm: float) -> bool:
    """True when some box holds a set with all locked blades."""
    boxes = limit_boxes(stock, limits.slots, reach_hz, reach_g_mm)
    return bool(boxes[:, stock.locked].all(axis=1).any())


def _refuse_neighbour(stock: Stock, limits: Limits) -> None:
    """Raise the smallest neighbour limit of any set in the spreads, when the asked is below it.

    Blades next to each other in moment make the best sets: between two of a set's steps over
    one blade, no blade left out makes a step smaller.
    """
    asked = limits.neighbour_g_mm
    over = min(2, limits.slots - 1)
    least = math.inf
    for inside in _windows(stock, limits.slots, stock.frequency_hz, frequency_reach_hz(limits)):
        values = np.sort(stock.moment_g_mm[inside])
        runs = np.lib.stride_tricks.sliding_window_view(values, limits.slots)
        if limits.moment_spread_g_mm is not None:
            runs = runs[runs[:, -1] - runs[:, 0] <= limits.moment_spread_g_mm]
        if len(runs):
            least = min(least, float((runs[:, over:] - runs[:, :-over]).max(axis=1).min()))
    if asked is not None and asked < least < math.inf:
        raise Impossible(
            f"a neighbour limit of {asked:.10g} g·mm is impossible for every set of the stock;"
            f" the smallest possible is {_told(least, 'g·mm')}",
            least,
        )


def _refuse_opposite(stock: Stock, limits: Limits) -> None:
    """Raise the smallest opposite limit of any set in the spreads, when asked less."""
    asked = limits.opposite_g_mm
    reach_hz, reach_g_mm = frequency_reach_hz(limits), moment_reach_g_mm(limits)
    wanted = limits.slots // 2
    least = math.inf
    for box in limit_boxes(stock, limits.slots, reach_hz, reach_g_mm):
        values = np.sort(stock.moment_g_mm[box])
        steps = np.unique(np.diff(values))
        low, high = 0, len(steps) - 1
        while low < high:
            middle = (low + high) // 2
            if len(pairs(values, float(steps[middle]))) >= wanted:
                high = middle
            else:
                low = middle + 1
        least = min(least, float(steps[low]))
    if asked is not None and asked < least < math.inf:
        raise Impossible(
            f"an opposite limit of {asked:.10g} g·mm is impossible for every set of the stock;"
            f" the smallest possible is {_told(least, 'g·mm')}",
            least,
        )


def smallest_moment_spread(stock: Stock, slots: int, reach_hz: float) -> float:
    """Least moment spread of a set within the frequency reach; infinite when there is none."""
    return _smallest(stock, slots, stock.moment_g_mm, (stock.frequency_hz, reach_hz))


def smallest_frequency_spread(stock: Stock, slots: int, reach_g_mm: float) -> float:
    """Least frequency spread of a set within the moment reach; infinite when there is none."""
    if stock.frequency_hz is None:
        return math.inf
    return _smallest(stock, slots, stock.frequency_hz, (stock.moment_g_mm, reach_g_mm))


def _smallest(
    stock: Stock, slots: int, values: Floats, other: tuple[Floats | None, float]
) -> float:
    """Narrowest interval of N blades and the locked ones, over all windows of the other."""
    least = math.inf
    for inside in _windows(stock, slots, *other):
        if not inside[stock.locked].all():
            continue
        ordered = np.sort(values[inside])
        low, high = ordered[: len(ordered) - slots + 1], ordered[slots - 1 :]
        if len(stock.locked):
            low = np.minimum(low, values[stock.locked].min())
            high = np.maximum(high, values[stock.locked].max())
        least = min(least, float((high - low).min()))
    return least


def _windows(stock: Stock, slots: int, values: Floats | None, reach: float) -> Masks:
    """Blades of each maximal window of one reading; all blades when it has no limit."""
    if values is None or not math.isfinite(reach):
        return np.ones((1, len(stock)), dtype=np.bool_)
    ordered = np.sort(values)
    rows = [values - low <= reach for low in ordered]
    masks = np.array([row & (values >= low) for row, low in zip(rows, ordered, strict=True)])
    return np.asarray(masks[masks.sum(axis=1) >= slots], dtype=np.bool_)

"""Hand out blades to boxes so that the ones left behind are easy to place later.

A blade is easy when a limit box laid over it at random holds many of its fellows. Which blades
of which box make the sets is a transport problem, whose corners are whole numbers.
"""

from __future__ import annotations

import numpy as np

from ringwright.balance.draw_stock import Masks, Stock
from ringwright.balance.pool import Floats, Ints
from ringwright.balance.solver import QuietHighs


def ease(stock: Stock, reach_hz: float, reach_g_mm: float) -> Floats:
    """0 (nobody near) to 1 (everybody near): the share of the stock a box round it holds."""
    near = _overlap(stock.moment_g_mm, reach_g_mm)
    if stock.frequency_hz is not None:
        near = near * _overlap(stock.frequency_hz, reach_hz)
    found: Floats = near.mean(axis=1) if len(stock) else np.empty(0)
    return found


def _overlap(values: Floats, reach: float) -> Floats:
    """Of the windows that hold one value, the share that hold the other too."""
    if not np.isfinite(reach):
        reach = 2.0 * float(np.ptp(values)) if len(values) else 0.0
    if reach <= 0:
        reach = 1e-9 * max(float(np.abs(values).max(initial=0.0)), 1.0)
    found: Floats = np.maximum(0.0, 1.0 - np.abs(values[:, None] - values[None, :]) / reach)
    return found


def share(boxes: Masks, needs: Ints, cost: Floats) -> tuple[Ints, ...] | None:
    """The cheapest blades that fill every box as needed; None when they cannot be filled."""
    if len(boxes) == 1:
        inside = np.flatnonzero(boxes[0])
        if len(inside) < needs[0]:
            return None
        return (np.sort(inside[np.argsort(cost[inside], kind="stable")[: needs[0]]]),)
    solver = QuietHighs()
    owners, blades = np.nonzero(boxes)
    rows = np.array([*needs.tolist(), *[1] * boxes.shape[1]], dtype=np.float64)
    least = np.array([*needs.tolist(), *[0] * boxes.shape[1]], dtype=np.float64)
    none = np.empty(0, dtype=np.int32)
    solver.addRows(len(rows), least, rows, 0, np.zeros(len(rows), np.int32), none, np.empty(0))
    count = len(owners)
    starts = (np.arange(count) * 2).astype(np.int32)
    entries = np.stack([owners, len(boxes) + blades], axis=1).ravel().astype(np.int32)
    ones = np.ones(count)
    solver.addCols(
        count, cost[blades], 0 * ones, ones, 2 * count, starts, entries, np.ones(2 * count)
    )
    solver.run()
    taken = np.array(solver.getSolution().col_value) > 0.5
    found = tuple(blades[taken & (owners == owner)] for owner in range(len(boxes)))
    if any(len(set_) != need for set_, need in zip(found, needs.tolist(), strict=True)):
        return None
    return found

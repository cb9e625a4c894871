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
    nothing = np.empty(0, dtype=np.int32)
    for need in needs.tolist():
        solver.addRow(float(need), float(need), 0, nothing, np.empty(0))
    for _ in range(boxes.shape[1]):
        solver.addRow(0.0, 1.0, 0, nothing, np.empty(0))
    owners, blades = np.nonzero(boxes)
    for owner, blade in zip(owners.tolist(), blades.tolist(), strict=True):
        rows = np.array([owner, len(boxes) + blade], dtype=np.int32)
        solver.addCol(float(cost[blade]), 0.0, 1.0, 2, rows, np.ones(2))
    solver.run()
    taken = np.array(solver.getSolution().col_value) > 0.5
    found = tuple(blades[taken & (owners == owner)] for owner in range(len(boxes)))
    if any(len(set_) != need for set_, need in zip(found, needs.tolist(), strict=True)):
        return None
    return found

"""Choose the blades of a set so that some order of them keeps the rules of the ring.

What is counted is how far a set misses conditions that are enough for an order (light to heavy
up one side and down the other); the last word has the search for an order itself
(`feasible.orderable`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ringwright.balance.draw_stock import Stock, frequency_reach_hz, moment_reach_g_mm
from ringwright.balance.feasible import orderable
from ringwright.balance.limits import Limits
from ringwright.balance.pool import Floats, Ints, Pool


def asks_order(limits: Limits) -> bool:
    """True when a set inside the spreads may still have no order."""
    ring = limits.neighbour_g_mm is not None or limits.opposite_g_mm is not None
    return ring or limits.alternate or bool(limits.locks)


@dataclass(frozen=True, kw_only=True)
class Orders:
    """The question whether a set has an order, for one stock and its limits."""

    pool: Pool
    stock: Stock
    limits: Limits

    def has(self, blades: Ints, *, first: bool) -> bool:
        """True when an order is known; the first set alone knows the locks."""
        limits = self.limits if first else replace(self.limits, locks={})
        return orderable(self.pool.take(self.stock.places[blades]), limits)

    @property
    def mixed(self) -> bool:
        """True when rules meet, and the conditions of one are not enough for all."""
        near, across = self.limits.neighbour_g_mm, self.limits.opposite_g_mm
        rules = (near is not None, across is not None, self.limits.alternate)
        return sum(rules) + bool(self.limits.locks) > 1

    @cached_property
    def unit(self) -> float:
        """What one blade on the wrong side of the median counts, g·mm."""
        return max(float(np.ptp(self.stock.moment_g_mm)), 1.0)

    def excess(self, sets: Ints, tightness: float = 1.0) -> Floats:
        """How far each set, shape (sets, N), misses what is enough for an order; 0: it has one.

        Infinite where a spread is broken. `tightness` under 1 asks for more than the limits.
        """
        moments = np.sort(self.stock.moment_g_mm[sets], axis=1)
        reach = moment_reach_g_mm(self.limits)
        missed = np.where(moments[:, -1] - moments[:, 0] > reach, np.inf, 0.0)
        if self.stock.frequency_hz is None or not self.limits.alternate:
            if self.stock.frequency_hz is not None:
                missed += self._too_wide(self.stock.frequency_hz[sets])
            return missed + self._plain(moments, tightness)
        frequencies = self.stock.frequency_hz[sets]
        missed += self._too_wide(frequencies) + self._on_median(frequencies)
        by_frequency = np.argsort(frequencies, axis=1, kind="stable")
        ordered = np.take_along_axis(self.stock.moment_g_mm[sets], by_frequency, axis=1)
        half = sets.shape[1] // 2
        low, high = np.sort(ordered[:, :half], axis=1), np.sort(ordered[:, half:], axis=1)
        return missed + self._classes(low, high, tightness)

    def _too_wide(self, frequencies: Floats) -> Floats:
        spread = frequencies.max(axis=1) - frequencies.min(axis=1)
        return np.where(spread > frequency_reach_hz(self.limits), np.inf, 0.0)

    def _on_median(self, frequencies: Floats) -> Floats:
        """Blades to exchange until none lies on the median."""
        ordered = np.sort(frequencies, axis=1)
        half = ordered.shape[1] // 2
        below, above = ordered[:, half - 1], ordered[:, half]
        low = (ordered[:, :half] == above[:, None]).sum(axis=1)
        high = (ordered[:, half:] == below[:, None]).sum(axis=1)
        found: Floats = np.where(below == above, np.minimum(low, high), 0) * self.unit
        return found

    def _plain(self, moments: Floats, tightness: float) -> Floats:
        """Neighbours and opposites of a free ring, from ascending moments."""
        near, across = self.limits.neighbour_g_mm, self.limits.opposite_g_mm
        missed = np.zeros(len(moments))
        if across is not None:
            missed += _over(moments[:, 1::2] - moments[:, ::2], across * tightness)
        if near is not None:
            # Pairs on diameters zigzag as pairs: from one pair to the next but one.
            step = 2 if across is None else 5
            step = min(step, moments.shape[1] - 1)
            steps = moments[:, step:] - moments[:, :-step]
            missed += _over(steps if across is None else steps[:, ::2], near * tightness)
        return missed

    def _classes(self, low: Floats, high: Floats, tightness: float) -> Floats:
        """The same where low and high frequencies alternate."""
        near, across = self.limits.neighbour_g_mm, self.limits.opposite_g_mm
        half = low.shape[1]
        missed = np.zeros(len(low))
        if near is not None:
            for one, other in ((low, high), (high, low)):
                missed += _over(np.abs(one[:, 1:] - other[:, :-1]), near * tightness)
            ends = np.abs(low[:, [0, -1]] - high[:, [0, -1]])
            missed += _over(ends, near * tightness)
        if across is not None and half % 2:
            missed += _over(np.abs(low - high), across * tightness)
        elif across is not None:
            for side in (low, high):
                missed += _over(side[:, 1::2] - side[:, ::2], across * tightness)
        return missed


def _over(values: Floats, limit: float) -> Floats:
    found: Floats = np.maximum(values - limit, 0.0).sum(axis=1)
    return found

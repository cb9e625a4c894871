"""Stocks to draw sets from, and the largest number of sets by trying everything."""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np

from ringwright.balance.limits import Limits
from ringwright.balance.pool import Blade, Pool
from ringwright.balance.work import Work


def stock(seed: int, blades: int = 160, sd_hz: float = 1.0) -> Pool:
    """Moments and frequencies as a shop finds them."""
    rng = np.random.default_rng(seed)
    moments = rng.normal(120_000, 480, blades)
    frequencies = rng.normal(90, sd_hz, blades)
    return pool_of(zip(moments.tolist(), frequencies.tolist(), strict=True))


def pool_of(readings: Iterable[tuple[float, float]]) -> Pool:
    """Blades B1, B2, … of these moments and frequencies."""
    return Pool(
        blades=tuple(
            Blade(serial=f"B{number}", moment_g_mm=moment, frequency_hz=frequency)
            for number, (moment, frequency) in enumerate(readings, start=1)
        )
    )


def work(
    *,
    seed: int = 1,
    stop_asked: Callable[[], bool] = lambda: False,
    report: Callable[[float, str, Any], None] = lambda _done, _what, _best: None,
) -> Work:
    """A drawing's allowance, on the machine's clock."""
    return Work(clock=time.perf_counter, seed=seed, stop_asked=stop_asked, report=report)


def within(blades: Sequence[Blade], limits: Limits) -> bool:
    """Whether the blades keep both spreads, as the recheck computes them."""
    moments = [b.moment_g_mm for b in blades]
    frequencies = [b.frequency_hz or 0.0 for b in blades]
    return max(moments) - min(moments) <= (limits.moment_spread_g_mm or 0.0) and max(
        frequencies
    ) - min(frequencies) <= (limits.frequency_spread_hz or 0.0)


def most_disjoint(pool: Pool, limits: Limits) -> int:
    """The largest number of disjoint sets, by trying all of them."""
    sets = [
        frozenset(choice)
        for choice in itertools.combinations(range(len(pool)), limits.slots)
        if within([pool.blades[place] for place in choice], limits)
    ]

    def most(rest: list[frozenset[int]]) -> int:
        found = 0
        for at, set_ in enumerate(rest):
            found = max(found, 1 + most([o for o in rest[at + 1 :] if not o & set_]))
            if found == len(pool) // limits.slots:
                break
        return found

    return most(sets)

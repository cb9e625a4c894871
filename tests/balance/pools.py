"""Pools for tests, drawn from a seed."""

from __future__ import annotations

import time
from collections.abc import Sequence

import numpy as np

from ringwright.balance.pool import Blade, Pool
from ringwright.balance.work import Work


def pool_of(moments: Sequence[float], **more: Sequence[float]) -> Pool:
    """A pool of these moments; `more` by field, such as frequency_hz."""
    return Pool(
        blades=tuple(
            Blade(
                serial=f"B-{n}",
                moment_g_mm=float(moment),
                **{name: float(values[n]) for name, values in more.items()},
            )
            for n, moment in enumerate(moments)
        )
    )


def fan(count: int, seed: int = 1, *, mean: float = 120_000.0, share: float = 0.004) -> Pool:
    """Blades with normal moments and frequencies near 60 Hz."""
    chance = np.random.default_rng(seed)
    moments = chance.normal(mean, mean * share, count)
    return pool_of(moments.tolist(), frequency_hz=chance.normal(60.0, 1.0, count).tolist())


def work(effort: int = 3, seed: int = 1) -> Work:
    """Work by the machine's clock, without a ceiling."""
    return Work(effort=effort, seed=seed, clock=time.perf_counter)

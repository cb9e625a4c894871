"""Runs drawn at random: heated, held, cooled, each a little different from the last."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from ringwright.heat.trace import Floats, Trace

MINUTES = 300
HELD_C, PLATEAU = 900.0, (60, 240)


@dataclass(frozen=True, kw_only=True)
class Kind:
    """How much good runs of a furnace differ."""

    between_runs_c: float = 1.0
    tail: float | None = None
    """Degrees of freedom of Student's t between runs; None: normal."""
    wander_c: float = 0.7
    wander_min: float = 30.0
    late_min: float = 2.0
    """Standard deviation of when heating begins."""


def a_run(
    random: np.random.Generator,
    kind: Kind | None = None,
    *,
    drift_from: int | None = None,
    drift_c_per_min: float = 0.0,
    minutes: int = MINUTES,
) -> Trace:
    """One reading a minute of three thermocouples and the pressure.

    From minute `drift_from` on the third thermocouple falls behind by so much a minute.
    """
    kind = kind or Kind()
    at = np.arange(minutes, dtype=np.float64)
    late = random.normal(0, kind.late_min)
    level = np.interp(
        at - late, [0, PLATEAU[0], PLATEAU[1], MINUTES], [20, HELD_C, HELD_C, 500]
    )
    offset = random.standard_t(kind.tail) if kind.tail else random.normal()
    temperatures = {
        f"tc{n}_c": level
        + kind.between_runs_c * offset
        + 2.0 * n
        + _wander(random, kind, minutes)
        for n in range(-1, 2)
    }
    if drift_from is not None:
        temperatures["tc1_c"] += drift_c_per_min * np.clip(at - drift_from, 0, None)
    pressure = np.interp(at, [0, 70, 200, MINUTES], [0, 0, 900, 0])
    pressure = pressure * (1 + 0.003 * random.normal()) + _wander(random, kind, minutes)
    return Trace(at_s=60.0 * at, temperatures_c=temperatures, pressure_kpa=pressure)


def runs(
    count: int, seed: int, kind: Kind | None = None, minutes: int = MINUTES
) -> list[Trace]:
    """Good runs."""
    random = np.random.default_rng(seed)
    return [a_run(random, kind, minutes=minutes) for _ in range(count)]


def _wander(random: np.random.Generator, kind: Kind, minutes: int) -> Floats:
    """A first-order autoregression: readings that hang together for a while, and noise."""
    keep = float(np.exp(-1.0 / kind.wander_min))
    steps = random.normal(0, kind.wander_c * np.sqrt(1 - keep**2), minutes)
    steps[0] /= np.sqrt(1 - keep**2)
    found: Floats = lfilter([1.0], [1.0, -keep], steps) + random.normal(0, 0.2, minutes)
    return found

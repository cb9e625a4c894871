"""The minute from which a run could not be saved any more. Pure."""

from __future__ import annotations

from bisect import bisect_left
from typing import Final

import numpy as np

from ringwright.heat.judge import judge
from ringwright.heat.recipe import SOAK, Recipe
from ringwright.heat.trace import Floats, Trace

MINUTE_S: Final = 60.0


def broken_min(trace: Trace, recipe: Recipe) -> float | None:
    """Minutes since its first reading until a limit of the recipe was broken for good.

    It is the first whole minute up to which the trace, judged as if it went on, has a fault
    that no later reading could mend; of a soak that stayed too short the minute in which it
    left its band and did not come back. None where there is neither: the run met its recipe,
    or what it lacks is no moment (a soak that it never reached).
    """
    if not trace.size:
        return None
    judged = judge(trace, recipe).segments
    left = [
        (one.end_s - float(trace.at_s[0])) / MINUTE_S
        for one in judged
        if one.kind == SOAK and one.lacking and one.end_s is not None
        if one.end_s < trace.at_s[-1]
    ]
    faulty = [_first_fault(trace, recipe)] if any(one.faults for one in judged) else []
    return min([*faulty, *left], default=None)


def _first_fault(trace: Trace, recipe: Recipe) -> float:
    """The first minute that a fault is seen by, found by halving."""
    minutes = int(np.ceil((trace.at_s[-1] - trace.at_s[0]) / MINUTE_S))
    first = bisect_left(
        range(minutes),
        True,
        key=lambda minute: _faulty(until(trace, minute * MINUTE_S), recipe),
    )
    return float(first)


def _faulty(trace: Trace, recipe: Recipe) -> bool:
    return any(one.faults for one in judge(trace, recipe).segments)


def until(trace: Trace, seconds: float) -> Trace:
    """The trace up to so many seconds after its first reading."""
    return cut(trace, -np.inf, float(trace.at_s[0]) + seconds)


def cut(
    trace: Trace, from_s: float, to_s: float, without: frozenset[str] = frozenset()
) -> Trace:
    """What was read between two times, both included, by all but some thermocouples."""
    first = np.searchsorted(trace.at_s, from_s, side="left")
    last = np.searchsorted(trace.at_s, to_s, side="right")
    pressure: Floats | None = trace.pressure_kpa
    return Trace(
        at_s=trace.at_s[first:last],
        temperatures_c={
            name: values[first:last]
            for name, values in trace.temperatures_c.items()
            if name not in without
        },
        pressure_kpa=None if pressure is None else pressure[first:last],
    )

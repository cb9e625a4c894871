"""A run minute by minute: what tells one run from another, on a common clock."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ringwright.heat.trace import Floats, Trace

COLDEST, HOTTEST, SPREAD, PRESSURE = "coldest", "hottest", "spread", "pressure"
FEATURES: Final = (COLDEST, HOTTEST, SPREAD, PRESSURE)
"""Coldest and hottest thermocouple [degC], their difference [degC], gauge pressure [kPa]."""
HELD_MIN: Final = 5
"""A minute without a reading takes that of the minute before, for so long and no longer."""
LONGEST_MIN: Final = 3 * 24 * 60
_LATE_MIN: Final = 0.01
"""A reading due on the minute may come this much late and still belong to it."""


def minute_by_minute(trace: Trace) -> Floats:
    """The features of each whole minute since the run's first reading, (minutes, 4).

    Row m is the mean of each channel over the readings later than minute m - 1 and not later
    than minute m; row 0 is the first reading. Only minutes that are over are there, so that a
    run in progress says no more than it knows. Columns as in `FEATURES`; NaN where nothing
    was read. Thermocouples that failed are left out by the caller. At most three days are
    taken.
    """
    if not trace.size:
        return np.empty((0, len(FEATURES)))
    minutes = (trace.at_s - trace.at_s[0]) / 60.0
    rows = np.maximum(np.ceil(minutes - _LATE_MIN), 0).astype(np.intp)
    over = min(int(np.floor(minutes[-1] + _LATE_MIN)), LONGEST_MIN) + 1
    channels = list(trace.temperatures_c.values())
    if trace.pressure_kpa is not None:
        channels.append(trace.pressure_kpa)
    means = np.empty((over, len(channels)))
    for place, values in enumerate(channels):
        means[:, place] = _means(rows, values, over)
    return _features(_held(means), pressure=trace.pressure_kpa is not None)


def _means(rows: NDArray[np.intp], values: Floats, over: int) -> Floats:
    """Mean of each minute's readings; NaN where there is none."""
    read = np.isfinite(values) & (rows < over)
    total = np.bincount(rows[read], weights=values[read], minlength=over)
    count = np.bincount(rows[read], minlength=over)
    found: Floats = np.divide(total, count, out=np.full(over, np.nan), where=count > 0)
    return found


def _held(means: Floats) -> Floats:
    """Short silences filled with what was read last: a slow recorder is no gap."""
    blank = np.isnan(means)
    row = np.arange(len(means))[:, None]
    last = np.maximum.accumulate(np.where(blank, -1, row), axis=0)
    short = (last >= 0) & (row - last <= HELD_MIN)
    filled = np.take_along_axis(means, np.maximum(last, 0), axis=0)
    return np.where(short, filled, np.nan)


def _features(means: Floats, *, pressure: bool) -> Floats:
    temperatures = means[:, :-1] if pressure else means
    found = np.full((len(means), len(FEATURES)), np.nan)
    if temperatures.shape[1]:
        coldest = np.fmin.reduce(temperatures, axis=1)
        hottest = np.fmax.reduce(temperatures, axis=1)
        found[:, :3] = np.stack([coldest, hottest, hottest - coldest], axis=1)
    if pressure:
        found[:, 3] = means[:, -1]
    return found

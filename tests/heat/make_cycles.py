"""Furnace runs drawn by hand: corners of minutes and degrees, each channel beside the line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ringwright.heat.recipe import RAMP, SOAK, Recipe, Segment
from ringwright.heat.trace import SECONDS, Floats, Trace

Corners = Sequence[tuple[float, float]]
"""(minute, degC or kPa), straight between."""


def run(
    corners: Corners,
    *,
    offsets: Sequence[float] = (-2.0, 0.0, 2.0),
    pressure: Corners | None = None,
    step_s: float = 60.0,
    flicker: float = 0.05,
) -> Trace:
    """A trace along the corners, one channel for each offset.

    Each channel flickers by as much from one sample to the next, since one that stands still
    for half an hour counts as broken; at every second sample it stands on the line itself.
    """
    at_s = np.arange(0.0, corners[-1][0] * 60.0 + step_s / 2, step_s)
    beat = np.where(np.arange(at_s.size) % 2 == 1, flicker, 0.0)
    line = _line(at_s, corners)
    names = [f"tc{n}_c" for n in range(1, len(offsets) + 1)]
    return Trace(
        at_s=at_s,
        temperatures_c={
            name: line + offset - beat for name, offset in zip(names, offsets, strict=True)
        },
        pressure_kpa=None if pressure is None else _line(at_s, pressure),
        stamps=tuple(f"{second:g}" for second in at_s),
        clock=SECONDS,
    )


def _line(at_s: Floats, corners: Corners) -> Floats:
    minutes = [minute for minute, _ in corners]
    return np.interp(at_s / 60.0, minutes, [value for _, value in corners])


def with_readings(
    trace: Trace,
    channel: str,
    readings: Mapping[int, float],
) -> Trace:
    """The same run, but for what one channel (or `pressure_kpa`) read at some samples."""
    columns = dict(trace.temperatures_c)
    pressure = trace.pressure_kpa
    values = pressure if channel == "pressure_kpa" else columns[channel]
    assert values is not None
    changed = values.copy()
    for place, value in readings.items():
        changed[place] = value
    if channel == "pressure_kpa":
        pressure = changed
    else:
        columns[channel] = changed
    return _trace(trace, np.arange(trace.size), columns, pressure)


def without(trace: Trace, places: Sequence[int]) -> Trace:
    """The same run with some samples missing."""
    kept = np.setdiff1d(np.arange(trace.size), places)
    return _trace(trace, kept, trace.temperatures_c, trace.pressure_kpa)


def until(trace: Trace, minute: float) -> Trace:
    """The same run as far as that minute."""
    return without(trace, [*np.flatnonzero(trace.at_s > minute * 60.0)])


def _trace(
    trace: Trace, kept: np.ndarray, columns: Mapping[str, Floats], pressure: Floats | None
) -> Trace:
    return Trace(
        at_s=trace.at_s[kept],
        temperatures_c={name: values[kept] for name, values in columns.items()},
        pressure_kpa=None if pressure is None else pressure[kept],
        stamps=tuple(trace.stamps[place] for place in kept),
        clock=trace.clock,
    )


def ramp(
    target_c: float, tolerance_c: float = 8.0, name: str = "ramp", **more: float
) -> Segment:
    return Segment(name=name, kind=RAMP, target_c=target_c, tolerance_c=tolerance_c, **more)


def soak(
    target_c: float, tolerance_c: float = 8.0, name: str = "soak", **more: float
) -> Segment:
    return Segment(name=name, kind=SOAK, target_c=target_c, tolerance_c=tolerance_c, **more)


def recipe(*segments: Segment, **more: float) -> Recipe:
    return Recipe(segments=segments, **more)  # type: ignore[arg-type]

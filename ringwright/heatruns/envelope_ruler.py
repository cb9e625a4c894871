"""The corridor of good runs drawn: how far from the median they read, minute by minute. Pure.

A cycle goes over hundreds of degrees and good runs differ by a few, so each feature is drawn as
its distance from the median of good runs. Across, a coordinate is in a box 1000 wide; down it
is in CSS pixels.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ringwright.heat.envelope import BELOW, Band, Departure, Envelope
from ringwright.heat.minutes import COLDEST, FEATURES, minute_by_minute
from ringwright.heat.thinning import thinned
from ringwright.heat.trace import Floats, Trace
from ringwright.kit.charts import Scale, whole_ticks

WIDTH: Final = 1000.0
HEIGHT: Final = 118
COLUMNS: Final = 300
"""Stretches that a line is thinned to."""
BEYOND: Final = 2.5
"""A run is drawn so many times as far out as the corridor, and no further."""
STEPS_MIN: Final = (5, 10, 15, 30, 60, 120, 240, 480, 720, 1440)
MOST_TICKS: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A figure on a scale and where it stands: down in pixels, across in per cent."""

    at: float
    value: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """Where the run left the corridor: across in per cent, down in pixels."""

    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One feature: paths in a box 1000 wide."""

    feature: str
    usual: str
    """Area in which nine of ten good runs lay."""
    low: str
    high: str
    run: str
    """The run laid over it; empty without one."""
    zero: float
    ticks: tuple[Tick, ...]
    ring: Ring | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CorridorDrawing:
    """The cycle and, under it, each feature."""

    cycle: str
    """The median of the coldest thermocouple, for where in the cycle one is."""
    cycle_ticks: tuple[Tick, ...]
    panels: tuple[Panel, ...]
    minutes: tuple[Tick, ...]
    """Minutes since the run began, across in per cent."""


def draw_corridor(
    envelope: Envelope, trace: Trace | None, departure: Departure | None
) -> CorridorDrawing:
    """The corridor, with a run over it where one is given."""
    last = max(1, envelope.minutes - 1)
    across = Scale(0.0, float(last), 0.0, WIDTH)
    run = None if trace is None else minute_by_minute(trace)[: envelope.minutes]
    coldest = envelope.bands[COLDEST].median
    cycle = _scale(float(np.nanmin(coldest)), float(np.nanmax(coldest)))
    panels = [
        _panel(name, band, across, None if run is None else run[:, place], departure)
        for place, name in enumerate(FEATURES)
        if np.isfinite((band := envelope.bands[name]).median).any()
    ]
    return CorridorDrawing(
        cycle=_line(coldest, across, cycle),
        cycle_ticks=_ticks(cycle),
        panels=tuple(panels),
        minutes=_minutes(last),
    )


def _panel(
    name: str, band: Band, across: Scale, run: Floats | None, departure: Departure | None
) -> Panel:
    low, high = band.low - band.median, band.high - band.median
    far = BEYOND * max(float(np.nanmax(high)), -float(np.nanmin(low)), 1e-6)
    off = None if run is None else _near(run - band.median[: run.size], far)
    reach = [float(np.nanmin(low)), float(np.nanmax(high))]
    if off is not None and np.isfinite(off).any():
        reach += [float(np.nanmin(off)), float(np.nanmax(off))]
    down = _scale(min(reach), max(reach))
    return Panel(
        feature=name,
        usual=_area(band.usual_low - band.median, band.usual_high - band.median, across, down),
        low=_line(low, across, down),
        high=_line(high, across, down),
        run="" if off is None else _line(off, across, down),
        zero=down(0.0),
        ticks=_ticks(down),
        ring=_ring(name, departure, off, (across, down)),
    )


def _near(off: Floats, far: float) -> Floats:
    """What lies within the picture; the line ends where a run goes beyond it."""
    found: Floats = np.where(np.abs(off) <= far, off, np.nan)
    return found


def _ring(
    name: str, departure: Departure | None, off: Floats | None, scales: tuple[Scale, Scale]
) -> Ring | None:
    if departure is None or departure.feature != name or off is None:
        return None
    across, down = scales
    value = off[departure.minute]
    # Beyond the picture it left at its edge.
    lowest = departure.direction == BELOW
    edge = down.low if not lowest else down.high
    y = down(float(value) if np.isfinite(value) else edge)
    return Ring(x=round(across(departure.minute) / WIDTH * 100, 2), y=y)


def _scale(low: float, high: float) -> Scale:
    margin = (high - low) * 0.06 or 1.0
    return Scale(high + margin, low - margin, 2.0, HEIGHT - 2.0)


def _ticks(down: Scale) -> tuple[Tick, ...]:
    return tuple(
        Tick(at=down(value), value=value) for value in whole_ticks(down.high, down.low, 4)
    )


def _minutes(last: int) -> tuple[Tick, ...]:
    step = next((one for one in STEPS_MIN if last / one <= MOST_TICKS), STEPS_MIN[-1])
    across = Scale(0.0, float(last), 0.0, 100.0)
    return tuple(Tick(at=across(value), value=value) for value in range(0, last + 1, step))


def _line(values: Floats, across: Scale, down: Scale) -> str:
    """A path through what is there, broken where nothing is."""
    at, thin = thinned(np.arange(values.size, dtype=np.float64), values, COLUMNS)
    pieces, pen = [], "M"
    for minute, value in zip(at.tolist(), thin.tolist(), strict=True):
        if not np.isfinite(value):
            pen = "M"
            continue
        pieces.append(f"{pen}{across(minute)} {down(value)}")
        pen = "L"
    return "".join(pieces)


def _area(low: Floats, high: Floats, across: Scale, down: Scale) -> str:
    """Between two lines, one closed piece for each stretch that is there."""
    there = np.isfinite(low) & np.isfinite(high)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(np.int8)))
    step = max(1, low.size // COLUMNS)
    pieces = []
    for begin, end in edges.reshape(-1, 2).tolist():
        minutes = [*range(begin, end, step), end - 1]
        over = [f"{across(minute)} {down(float(high[minute]))}" for minute in minutes]
        under = [f"{across(minute)} {down(float(low[minute]))}" for minute in minutes[::-1]]
        pieces.append("M" + "L".join([*over, *under]) + "Z")
    return "".join(pieces)

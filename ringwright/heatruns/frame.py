"""The window, the scales and the corridors of a run's picture: all but what was read. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ringwright.heat.recipe import SOAK, Segment
from ringwright.heat.trace import Floats, Trace
from ringwright.heatruns.ahead import ROOM_C, laid_ahead, laid_unreached
from ringwright.heatruns.breaks import PRESSURE, Laid
from ringwright.heatruns.lines import Window
from ringwright.heatruns.picture import Corridor, Panel, Pictured, Tick
from ringwright.kit.charts import Scale, whole_ticks

HEIGHT, PRESSURE_HEIGHT, LENS_HEIGHT = 300, 96, 150
LENS_TOLERANCES: Final = 2.0
"""A soak is enlarged to so many tolerances either side of its target."""
STEPS_MIN: Final = (1, 2, 5, 10, 15, 30, 60, 120, 180, 240, 360, 720, 1440)
MOST_HOURS, MOST_LENS_HOURS = 6, 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What the readings are drawn into."""

    run: Pictured
    window: Window
    begun: Sequence[Laid]
    ahead: Sequence[Laid]
    """Not begun: still to come, or missed by a cycle that is over."""
    down: Scale
    pressed: Scale | None
    """None where the recipe asks no pressure and none was read."""

    @property
    def across(self) -> Scale:
        """Instants [s] to per cent of the width."""
        return across(self.window)

    def panel(self) -> Panel:
        """The temperatures' box, still empty."""
        ceiling = self.run.recipe.ceiling_c
        return Panel(
            height=HEIGHT,
            corridors=tuple(_corridors(self, self.down, _heat)),
            ticks=ticks(self.down, 6),
            hours=hours(self.window, self.run.offset_s, MOST_HOURS),
            ceiling_y=None if ceiling is None else self.down(ceiling),
        )

    def pressure_panel(self) -> Panel | None:
        """The pressure's box, still empty."""
        if self.pressed is None:
            return None
        return Panel(
            height=PRESSURE_HEIGHT,
            corridors=tuple(_corridors(self, self.pressed, _pressure)),
            ticks=ticks(self.pressed, 3),
            hours=hours(self.window, self.run.offset_s, MOST_HOURS),
        )

    def lens(self, soak: Laid) -> tuple[Panel, Window, Scale]:
        """An enlarged soak's box, still empty, with its window and its scale."""
        segment, span = soak.segment, soak.span
        assert span is not None
        reach = LENS_TOLERANCES * (segment.tolerance_c or 1.0)
        target = segment.target_c
        down = Scale(target + reach, target - reach, 0.0, float(LENS_HEIGHT))
        window = Window(from_s=span[0], to_s=max(span[1], span[0] + 1.0))
        band = Corridor(
            name=segment.name,
            kind=segment.kind,
            x=0.0,
            width=100.0,
            top=down(target + segment.tolerance_c),
            bottom=down(target - segment.tolerance_c),
            middle=down(target),
            begins_at=down(target),
            ahead=False,
        )
        figures = (target - segment.tolerance_c, target, target + segment.tolerance_c)
        panel = Panel(
            height=LENS_HEIGHT,
            corridors=(band,),
            ticks=tuple(Tick(at=down(value), value=value) for value in figures),
            hours=hours(window, self.run.offset_s, MOST_LENS_HOURS),
        )
        return panel, window, down


def frame_of(run: Pictured, trace: Trace | None, failed: Sequence[str] = ()) -> Frame:
    """The frame of a run; `failed` thermocouples may read anything and stretch no scale."""
    begun = [one for one in run.laid if one.span is not None]
    ahead: list[Laid] = []
    if trace is None or run.now_s is not None:
        read_s = run.started_s if trace is None else float(trace.at_s[-1])
        ahead = laid_ahead(run.laid, run.started_s, max(read_s, run.now_s or read_s))
    else:
        ahead = laid_unreached(run.laid, float(trace.at_s[0]), float(trace.at_s[-1]))
    read = {} if trace is None else {**trace.temperatures_c}
    pressure = {} if trace is None else {PRESSURE: trace.pressure_kpa}
    levels = [*_levels(run.recipe.segments, _heat), *_extremes(read, failed), ROOM_C]
    if run.recipe.ceiling_c is not None:
        levels.append(run.recipe.ceiling_c)
    kpa = [*_levels(run.recipe.segments, _pressure), *_extremes(pressure, ())]
    return Frame(
        run=run,
        window=_window(run, trace, [*begun, *ahead]),
        begun=begun,
        ahead=ahead,
        down=_scale(levels, HEIGHT),
        pressed=_scale([*kpa, 0.0], PRESSURE_HEIGHT) if kpa else None,
    )


def across(window: Window) -> Scale:
    """Instants [s] of a window to per cent of the width."""
    return Scale(window.from_s, window.from_s + window.span_s, 0.0, 100.0)


def _window(run: Pictured, trace: Trace | None, laid: Sequence[Laid]) -> Window:
    times = [edge for one in laid if one.span is not None for edge in one.span]
    if trace is not None:
        times += [float(trace.at_s[0]), float(trace.at_s[-1])]
    if run.now_s is not None:
        times += [run.started_s, run.now_s]
    return Window(
        from_s=min(times, default=run.started_s),
        to_s=max(times, default=run.started_s + 3600.0),
    )


Wanted = tuple[float, float]
"""What a segment asks, and its tolerance."""


def _heat(segment: Segment) -> Wanted | None:
    return segment.target_c, segment.tolerance_c


def _pressure(segment: Segment) -> Wanted | None:
    if segment.pressure_kpa is None:
        return None
    return segment.pressure_kpa, segment.pressure_tolerance_kpa or 0.0


def _levels(segments: Sequence[Segment], wanted: object) -> list[float]:
    assert callable(wanted)
    found = [wanted(one) for one in segments]
    return [one[0] + side * one[1] for one in found if one is not None for side in (-1, 1)]


def _extremes(read: Mapping[str, Floats | None], failed: Sequence[str]) -> list[float]:
    found = []
    for name, values in read.items():
        if values is not None and name not in failed and np.isfinite(values).any():
            found += [float(np.nanmin(values)), float(np.nanmax(values))]
    return found


def _scale(levels: Sequence[float], height: int) -> Scale:
    low, high = min(levels), max(levels)
    pad = max((high - low) * 0.04, 1.0)
    return Scale(high + pad, low - pad, 0.0, float(height))


def _corridors(frame: Frame, down: Scale, wanted: object) -> Iterator[Corridor]:
    """Every segment that asks something here, begun or ahead, in the recipe's order."""
    assert callable(wanted)
    place = across(frame.window)
    level: float | None = None
    for one in (*frame.begun, *frame.ahead):
        asked: Wanted | None = wanted(one.segment)
        if asked is None or one.span is None:
            continue
        target, reach = asked
        x, end = place(one.span[0]), place(one.span[1])
        yield Corridor(
            name=one.segment.name,
            kind=one.segment.kind,
            x=x,
            width=round(end - x, 2),
            top=down(target + reach),
            bottom=down(target - reach),
            middle=down(target),
            begins_at=down(_begins_at(frame, one, level, target)),
            ahead=one in frame.ahead,
        )
        level = target


def _begins_at(frame: Frame, one: Laid, level: float | None, target: float) -> float:
    """Where a ramp comes from: the level before it, at first what the furnace stood at."""
    if level is not None or one.segment.kind == SOAK:
        return target if level is None else level
    trace = frame.run.trace
    if trace is None or not trace.size or one in frame.ahead:
        return min(ROOM_C, target)
    first = [values[0] for values in trace.temperatures_c.values() if np.isfinite(values[0])]
    return float(np.median(first)) if first else min(ROOM_C, target)


def ticks(down: Scale, most: int) -> tuple[Tick, ...]:
    """Whole figures of a scale."""
    low, high = sorted((down.low, down.high))
    return tuple(Tick(at=down(value), value=value) for value in whole_ticks(low, high, most))


def hours(window: Window, offset_s: float, most: int) -> tuple[Tick, ...]:
    """Round times of the site's clock within a window, at most so many."""
    minutes = window.span_s / 60.0
    step_s = 60.0 * next((one for one in STEPS_MIN if minutes / one <= most), 7 * 24 * 60)
    first_s = float(np.ceil((window.from_s + offset_s) / step_s) * step_s - offset_s)
    place = across(window)
    count = int((window.from_s + window.span_s - first_s) // step_s) + 1
    return tuple(
        Tick(at=place(first_s + n * step_s), value=first_s + n * step_s) for n in range(count)
    )

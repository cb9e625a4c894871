"""The picture of a run: what each thermocouple read, over its recipe as a corridor. Pure.

Across, a mark stands at a share of the picture's width in per cent, a line is drawn in a box
1,000 wide that is stretched to it: one drawing serves every screen. Lines are thinned so that
no peak, dip or gap is lost (`ringwright.heat.thinning`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ringwright.heat.channels import Bools, Working, working
from ringwright.heat.recipe import SOAK
from ringwright.heat.trace import Floats, Trace
from ringwright.heatruns.breaks import PRESSURE, Break, Gap, Laid, breaks_of, gaps_of
from ringwright.heatruns.frame import Frame, across, frame_of
from ringwright.heatruns.lines import Window, path_of, spread
from ringwright.heatruns.picture import (
    Hole,
    Lens,
    Line,
    Mark,
    Panel,
    Pictured,
    SoakClock,
    TraceDrawing,
)
from ringwright.kit.charts import Scale

BUCKETS, LENS_BUCKETS = 1000, 300
LABEL_PX: Final = 15.0
MOST_LENSES: Final = 6
MOST_MARKS, MOST_HOLES, MOST_BARS = 40, 60, 200


def draw_run(run: Pictured) -> TraceDrawing:
    """The picture of a run, or of its recipe alone while nothing was read."""
    trace = run.trace if run.trace is not None and run.trace.size else None
    work = None if trace is None else working(trace)
    frame = frame_of(run, trace, () if work is None else work.failed)
    now_s = run.now_s
    bare = TraceDrawing(
        panel=frame.panel(),
        pressure=frame.pressure_panel(),
        now_x=None if now_s is None else frame.across(now_s),
        clocks=tuple(_clock_ahead(one, frame) for one in frame.ahead if _soaks(one)),
    )
    if trace is None or work is None:
        return bare
    return _with_readings(bare, frame, _Read(trace=trace, work=work, gaps=gaps_of(work)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Read:
    """What was read, and where it is silent."""

    trace: Trace
    work: Working
    gaps: tuple[Gap, ...]

    def broken_at(self) -> tuple[Floats, Floats]:
        """Times amid each gap, and where they stand: there a line must break."""
        middles = np.array([(gap.from_s + gap.to_s) / 2 for gap in self.gaps])
        return middles, np.searchsorted(self.trace.at_s, middles).astype(np.float64)


def _with_readings(bare: TraceDrawing, frame: Frame, read: _Read) -> TraceDrawing:
    goes_on = frame.run.now_s is not None
    broken = breaks_of(read.work, frame.begun, frame.run.recipe, goes_on=goes_on)
    holes = _holes(read.gaps, frame.window)
    drawn = _Drawn.of(read)
    hot = [one for one in broken if one.channel != PRESSURE]
    panel = replace(
        bare.panel,
        lines=drawn.lines(drawn.temperatures, (frame.window, frame.down, BUCKETS), bare.panel),
        marks=_marks(hot, frame.window, frame.down),
        holes=holes,
    )
    pressure = bare.pressure
    if pressure is not None and frame.pressed is not None:
        pressed = [one for one in broken if one.channel == PRESSURE]
        how = (frame.window, frame.pressed, BUCKETS)
        pressure = replace(
            pressure,
            lines=drawn.lines(drawn.pressure, how, pressure),
            marks=_marks(pressed, frame.window, frame.pressed),
            holes=holes,
        )
    soaks = [one for one in frame.begun if _soaks(one)]
    return replace(
        bare,
        panel=panel,
        pressure=pressure,
        lenses=tuple(_lens(one, frame, drawn, hot) for one in soaks[:MOST_LENSES]),
        clocks=(*(_clock(one, frame, read.work) for one in soaks), *bare.clocks),
        gaps=read.gaps,
        breaks=broken,
        names=tuple(read.trace.temperatures_c),
    )


def _soaks(one: Laid) -> bool:
    return one.segment.kind == SOAK


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    """The readings with a blank amid each gap, ready to be drawn into any box."""

    at_s: Floats
    temperatures: Mapping[str, Floats]
    pressure: Mapping[str, Floats]
    failed: frozenset[str]
    gaps: tuple[Gap, ...]

    @classmethod
    def of(cls, read: _Read) -> _Drawn:
        """With the lines broken where the recorder was silent."""
        middles, places = read.broken_at()
        where = places.astype(np.intp)
        trace = read.trace
        kpa = trace.pressure_kpa
        pressure = {} if kpa is None else {PRESSURE: np.insert(kpa, where, np.nan)}
        return cls(
            at_s=np.insert(trace.at_s, where, middles),
            temperatures={
                name: np.insert(values, where, np.nan)
                for name, values in trace.temperatures_c.items()
            },
            pressure=pressure,
            failed=frozenset(read.work.failed),
            gaps=read.gaps,
        )

    def lines(
        self, read: Mapping[str, Floats], how: tuple[Window, Scale, int], box: Panel
    ) -> tuple[Line, ...]:
        """Each channel's line in a box, its word at the end clear of the others."""
        window, down, buckets = how
        found = [
            (style, name, *path_of(self.at_s, values, window, down, buckets))
            for style, (name, values) in enumerate(read.items())
        ]
        last_x = min(across(window)(float(self.at_s[-1])), 100.0) if self.at_s.size else 100.0
        seen = [(style, name, path, end) for style, name, path, end in found if end is not None]
        labels = spread([end for *_, end in seen], LABEL_PX, 4.0, box.height - 4.0)
        return tuple(
            Line(
                code=name,
                word=word_of(name),
                style=style,
                path=path,
                end_y=round(min(max(end, 0.0), box.height), 1),
                label_x=last_x,
                label_y=label,
                failed=name in self.failed,
            )
            for (style, name, path, end), label in zip(seen, labels, strict=True)
        )


def word_of(channel: str) -> str:
    """A channel as it is called on the floor: tc3 for tc3_c."""
    return channel.removesuffix("_c").removesuffix("_kpa")


def _holes(gaps: Sequence[Gap], window: Window) -> tuple[Hole, ...]:
    """The longest gaps, in time."""
    longest = sorted(gaps, key=lambda gap: -gap.minutes)[:MOST_HOLES]
    place = across(window)
    return tuple(
        Hole(
            x=place(gap.from_s),
            width=round(place(gap.to_s) - place(gap.from_s), 2),
            found=gap,
        )
        for gap in sorted(longest, key=lambda gap: gap.from_s)
    )


def _marks(broken: Sequence[Break], window: Window, down: Scale) -> tuple[Mark, ...]:
    """The worst breaks, in time, each where it was read."""
    worst = sorted(broken, key=lambda one: (one.allowed, -one.by))[:MOST_MARKS]
    place = across(window)
    return tuple(
        Mark(x=place(one.at_s), y=down(one.value), found=one)
        for one in sorted(worst, key=lambda one: one.at_s)
    )


def _lens(soak: Laid, frame: Frame, drawn: _Drawn, broken: Sequence[Break]) -> Lens:
    box, window, down = frame.lens(soak)
    own = [
        one
        for one in broken
        if one.segment == soak.segment.name and window.from_s <= one.at_s <= window.to_s
    ]
    within = [_clipped(one, down) for one in own]
    lines = drawn.lines(drawn.temperatures, (window, down, LENS_BUCKETS), box)
    marks = _marks(within, window, down)
    return Lens(
        name=soak.segment.name,
        panel=replace(box, lines=lines, marks=marks, holes=_inside(drawn.gaps, window)),
        beyond=any(one.value != two.value for one, two in zip(own, within, strict=True)),
    )


def _clipped(one: Break, down: Scale) -> Break:
    """A break that lies beyond the box stands at its edge."""
    low, high = sorted((down.low, down.high))
    return replace(one, value=min(max(one.value, low), high))


def _inside(gaps: Sequence[Gap], window: Window) -> tuple[Hole, ...]:
    cut = [
        Gap(from_s=max(gap.from_s, window.from_s), to_s=min(gap.to_s, window.to_s))
        for gap in gaps
        if gap.to_s > window.from_s and gap.from_s < window.to_s
    ]
    return _holes(cut, window)


def _clock(soak: Laid, frame: Frame, work: Working) -> SoakClock:
    """The stretches in which every working thermocouple was in band, under the soak."""
    span = soak.span
    assert span is not None
    place = frame.across
    return SoakClock(
        name=soak.segment.name,
        x=place(span[0]),
        width=round(place(span[1]) - place(span[0]), 2),
        bars=tuple(
            (place(begin), round(place(end) - place(begin), 2))
            for begin, end in _ran(soak, work)
        ),
        minutes=soak.minutes,
        least=soak.segment.min_minutes,
        met=soak.met,
    )


def _clock_ahead(soak: Laid, frame: Frame) -> SoakClock:
    span = soak.span
    assert span is not None
    place = frame.across
    return SoakClock(
        name=soak.segment.name,
        x=place(span[0]),
        width=round(place(span[1]) - place(span[0]), 2),
        bars=(),
        minutes=soak.minutes,
        least=soak.segment.min_minutes,
        met=soak.met,
        ahead=soak.met is None,
    )


def _ran(soak: Laid, work: Working) -> Iterator[tuple[float, float]]:
    """When the clock ran; at most so many stretches, the longest."""
    assert soak.span is not None
    begin, end = np.searchsorted(work.at_s, [soak.span[0], soak.span[1] + 1e-6])
    inside = work.inside(soak.segment.target_c, soak.segment.tolerance_c)[begin:end]
    at_s = work.at_s[begin:end]
    runs = _both(inside, work.gap[begin : max(end - 1, begin)])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], runs, [False]]).astype(np.int8)))
    found = [
        (float(at_s[a]), float(at_s[b])) for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]
    longest = sorted(found, key=lambda one: one[0] - one[1])[:MOST_BARS]
    yield from sorted(longest)


def _both(inside: Bools, gap: Bools) -> Bools:
    """(n - 1,) True for an interval that begins and ends in band and is no gap."""
    if inside.size < 2:
        return np.zeros(0, dtype=bool)
    found: Bools = inside[:-1] & inside[1:] & ~gap[: inside.size - 1]
    return found

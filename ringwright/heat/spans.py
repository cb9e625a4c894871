"""Where each segment begins and ends on the trace.

A ramp begins where the segment before it ended (the first with the record) and ends with the
first sample at which the slowest working thermocouple has come as far as the band. A soak
begins with the first sample that has every working thermocouple in band, and ends with the last
such one before the load leaves for the next target. Where the segment before asks another
pressure at the same temperature, the pressure has to travel first: the soak begins when it is
there. Soaks that neither temperature nor pressure tells apart follow each other by the clock:
the next begins when the one before has its `min_minutes`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ringwright.heat.channels import ROUNDING, ROUNDING_S, Bools, Working
from ringwright.heat.holds import Level, levels
from ringwright.heat.recipe import RAMP, SOAK, Recipe, Segment
from ringwright.heat.stages import DOWN, LEVEL, UP, Stage, not_begun, stages_of
from ringwright.heat.wording import band_c, band_kpa, figure, first_of, last_of

HEATED_AGAIN_C: Final = 50.0
"""So far above its target, a cooled load is being heated: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hot:
    """The samples begin … end, both its own, in which nothing may read above an edge."""

    begin: int
    end: int
    edge_c: float
    told: str
    """Which edge that is, for a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The samples first … last of a segment, both its own."""

    first: int | None = None
    last: int | None = None
    lacking: str = ""
    """Why the segment was not reached; empty where it was."""
    hot: Hot | None = None
    """Where nothing may read above an edge."""


def spans_of(work: Working, recipe: Recipe) -> list[Span]:
    """One span for each segment, in order; the trace has a sample and a thermocouple."""
    found: list[Span] = []
    cursor = 0
    before: Stage | None = None
    for stage in stages_of(work, recipe):
        if stage.begun:
            # After a segment that was reached, the next may come at once.
            reached = before is not None and not found[-1].lacking
            placed = _of_stage(work, stage, cursor, cursor + 1 if reached else stage.begin)
            cursor = max([cursor, *(one.last for one in placed if one.last is not None)])
        else:
            placed = [Span(lacking=stage.before)] * len(stage.segments)
            if before is not None and before.begun and _set_out(work, before, stage, found[-1]):
                told = _nearest(work, stage.segments[0], cursor, work.size)
                placed[0] = Span(first=cursor, last=work.size - 1, lacking=told)
        found += placed
        before = stage
    return found


def _set_out(work: Working, before: Stage, stage: Stage, span: Span) -> bool:
    """True where the record ends on a ramp that has not come half of its way."""
    last, ended = before.segments[-1], span.last
    if stage.ramp is None or span.lacking or ended is None or ended >= work.size - 1:
        return False
    inside = work.inside(last.target_c, last.tolerance_c)
    if last.kind == SOAK and span.first is not None:
        least = last.min_minutes or 0.0
        if _clocked(work, inside, span.first, least) > ended:
            return False
    ahead = (work.middle_c[-1] - last.target_c) * stage.way > last.tolerance_c
    return bool(ahead and not inside[ended + 1 :].any())


def _of_stage(work: Working, stage: Stage, cursor: int, begin: int) -> list[Span]:
    ramp = stage.ramp
    if ramp is None:
        return _holds(work, stage, cursor, max(cursor, begin))
    span = _ramp(work, stage, ramp, cursor, max(cursor, begin))
    if not stage.holds:
        return [replace(span, hot=_hot_ramp(work, stage, span))]
    arrived = span.last if span.last is not None and not span.lacking else max(cursor, begin)
    return [span, *_holds(work, stage, arrived, arrived)]


def _ramp(work: Working, stage: Stage, ramp: Segment, cursor: int, begin: int) -> Span:
    """The way to a target: to where the slowest thermocouple has come as far as its band."""
    passes = not stage.holds and stage.next_way == stage.way
    there = first_of(
        _arrived(work, ramp, stage.way), begin, stage.next_end if passes else stage.end
    )
    if there is not None:
        return Span(first=cursor, last=there)
    return Span(
        first=cursor,
        last=_left_off(work, ramp, begin, stage.end),
        lacking=_nearest(work, ramp, begin, stage.end),
    )


def _left_off(work: Working, ramp: Segment, begin: int, end: int) -> int:
    """Where a ramp that did not arrive was given up: the last sample about as near as any."""
    off = np.abs(work.middle_c[begin:end] - ramp.target_c)
    if not off.size:
        return min(begin, work.size - 1)
    return begin + int(np.flatnonzero(off <= off.min() + ramp.tolerance_c)[-1])


def _arrived(work: Working, ramp: Segment, way: int) -> Bools:
    if way == LEVEL:
        return work.inside(ramp.target_c, ramp.tolerance_c)
    if way == UP:
        slowest = work.coldest_c >= ramp.target_c - ramp.tolerance_c - ROUNDING
    else:
        slowest = work.hottest_c <= ramp.target_c + ramp.tolerance_c + ROUNDING
    arrived: Bools = work.all_known & slowest
    return arrived


def _nearest(work: Working, segment: Segment, begin: int, end: int) -> str:
    """How near the thermocouple furthest off came to the band, in a sentence."""
    off = np.abs(work.held_c[:, begin:end] - segment.target_c)
    furthest = np.fmax.reduce(off, axis=0, initial=np.nan)
    if not furthest.size or np.isnan(furthest).all():
        return f"never came to {band_c(segment)}"
    place = int(np.nanargmin(furthest))
    silent = np.flatnonzero(np.isnan(work.held_c[:, begin + place]))
    if furthest[place] <= segment.tolerance_c and silent.size:
        why = f"{work.names[silent[0]]} gave no reading"
    else:
        channel = int(np.nanargmax(off[:, place]))
        read = work.held_c[channel, begin + place]
        why = f"{work.names[channel]} came no nearer than {figure(read)} °C"
    return f"never all within {band_c(segment)}: {why}"


def _entered(work: Working, stage: Stage) -> int | None:
    """The sample at which the first thermocouple came into the band, on heating."""
    if stage.way == DOWN:
        return None
    first = stage.holds[0] if stage.holds else stage.segments[0]
    in_band = work.hottest_c >= first.target_c - first.tolerance_c - ROUNDING
    return first_of(in_band, stage.begin, stage.end)


def _hot(segment: Segment, begin: int, end: int) -> Hot:
    edge = segment.target_c + segment.tolerance_c
    return Hot(begin=begin, end=end, edge_c=edge, told=f"above {edge:g} °C")


def _hot_ramp(work: Working, stage: Stage, span: Span) -> Hot | None:
    """After a ramp to the hottest point nothing above its band; after the last no new heat."""
    ramp = stage.segments[0]
    entered = _entered(work, stage)
    if entered is not None:
        return _hot(ramp, entered, stage.end - 1) if stage.runs_over_to_end else None
    if stage.following is not None or span.lacking or span.last is None:
        return None
    edge = ramp.target_c + max(2.0 * ramp.tolerance_c, HEATED_AGAIN_C)
    told = f"above {edge:g} °C after the recipe was over"
    return Hot(begin=span.last, end=stage.end - 1, edge_c=edge, told=told)


def _holds(work: Working, stage: Stage, cursor: int, begin: int) -> list[Span]:
    first = stage.holds[0]
    inside = work.inside(first.target_c, first.tolerance_c)
    starts = first_of(inside, begin, stage.end)
    after = stage.vents_to
    ends = last_of(inside, begin, stage.end)
    limit = stage.next_end if after is not None else stage.end if ends is None else ends + 1
    apart = levels(work, stage.holds, after, begin if starts is None else starts, limit)
    # The pressure of the segment before, of this temperature, decides what must travel.
    asked = [stage.ramp, *stage.holds] if stage.ramp is not None else [None, *stage.holds]
    found: list[Span] = []
    for number, hold in enumerate(stage.holds):
        if number and stage.holds[number - 1].kind == SOAK and found[-1].lacking:
            found += [Span(lacking=not_begun(stage.holds[number - 1]))] * (
                len(stage.holds) - number
            )
            break
        level = apart[number]
        moved = number > 0 and level != apart[number - 1]
        window = _window(stage, level, max(cursor, begin))
        shared = number + 1 < len(stage.holds) and apart[number + 1] == level
        if hold.kind == RAMP:
            span = _pressing(work, hold, cursor, window)
        elif level is not None and level.coming:
            span = Span(lacking=_never(hold))
        else:
            travels = _travels(work, asked[number], hold, moved=moved)
            span = _soak(work, hold, window, travels=travels, shared=shared)
        found.append(span)
        cursor = cursor if span.last is None else max(cursor, span.last)
    return _with_hot(work, stage, found)


def _window(stage: Stage, level: Level | None, cursor: int) -> tuple[int, int]:
    """The samples [begin, end) that a hold may take."""
    if level is None:
        return cursor, stage.end
    return max(cursor, level.begin), min(level.last + 1, stage.end)


def _travels(work: Working, before: Segment | None, hold: Segment, *, moved: bool) -> bool:
    """True where the pressure must come from another level before the hold can begin."""
    if hold.pressure_kpa is None or work.pressure_kpa is None:
        return False
    other = before is not None and before.pressure_kpa not in (None, hold.pressure_kpa)
    return moved or other


def _soak(
    work: Working, soak: Segment, window: tuple[int, int], *, travels: bool, shared: bool
) -> Span:
    inside = work.inside(soak.target_c, soak.tolerance_c)
    ready = inside
    if travels:
        ready = inside & work.pressed(
            soak.pressure_kpa or 0.0, soak.pressure_tolerance_kpa or 0.0
        )
    first = first_of(ready, *window)
    if first is None:
        if (travels and first_of(inside, *window) is not None) or window[0] >= window[1]:
            return Span(lacking=_never(soak))
        return Span(lacking=_nearest(work, soak, *window))
    last = last_of(inside, first, window[1])
    last = first if last is None else last
    if shared:
        last = min(last, _clocked(work, inside, first, soak.min_minutes or 0.0))
    return Span(first=first, last=last)


def _never(segment: Segment) -> str:
    if segment.pressure_kpa is None:
        return f"never held at {band_c(segment)}"
    return f"the pressure never came to {band_kpa(segment)} at {band_c(segment)}"


def _clocked(work: Working, inside: Bools, first: int, least_minutes: float) -> int:
    """The sample at which a soak that began at `first` has its minutes in band."""
    runs = np.where(inside[first:-1] & ~work.gap[first:], np.diff(work.at_s[first:]), 0.0)
    gone = np.concatenate([[0.0], np.cumsum(runs)])
    return first + int(np.searchsorted(gone, least_minutes * 60.0 - ROUNDING_S))


def _pressing(work: Working, ramp: Segment, cursor: int, window: tuple[int, int]) -> Span:
    """A ramp of the pressure alone: from where the hold before ended to where it is there."""
    if ramp.pressure_kpa is None or work.pressure_kpa is None:
        return Span(first=cursor, last=cursor)
    there = work.pressed(ramp.pressure_kpa, ramp.pressure_tolerance_kpa or 0.0)
    arrived = first_of(there, *window)
    if arrived is None:
        last = max(cursor, window[1] - 1)
        return Span(first=cursor, last=last, lacking=_never(ramp))
    return Span(first=cursor, last=arrived)


def _with_hot(work: Working, stage: Stage, found: Sequence[Span]) -> list[Span]:
    """The spans with the samples in which nothing may be above the band.

    On heating from the first thermocouple in band on; after cooling only once the last hold is
    over, from where the load may go anywhere but up.
    """
    begin = _entered(work, stage)
    out = list(found[:-1])
    for number, span in enumerate(out):
        if begin is not None and span.last is not None:
            out[number] = replace(span, hot=_hot(stage.holds[number], begin, span.last))
            begin = span.last + 1
    last = found[-1]
    end = stage.end - 1 if stage.runs_over_to_end else last.last
    if begin is None and last.last is not None and stage.runs_over_to_end:
        begin = last.last + 1
    if begin is None or end is None or begin > end:
        return [*out, last]
    return [*out, replace(last, hot=_hot(stage.holds[-1], begin, end))]

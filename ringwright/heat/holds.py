"""Several holds at one temperature told apart: by the pressure each asks for.

The pressures of the holds, and that of the segment after them, are laid along the pressure's
trace as temperatures are along theirs. A hold ends with the last sample whose pressure is in
its band before it leaves for the next one's. It has not left while it stands still: a pressure
that made no headway through half of the way out of its band and on to the next was lost, not
changed, and the hold goes on without it. Where the record ends on the way, the hold was left
if it had had its minutes: a run that goes on may yet bring the pressure where it should be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ringwright.heat.channels import ROUNDING_S, Working, filled
from ringwright.heat.laying import NEAR, Stretch, lay
from ringwright.heat.recipe import SOAK, Segment
from ringwright.heat.trace import Floats

STANDSTILL: Final = 0.1
"""Less than this share of the way in half the time is no headway."""
FEW: Final = 3
"""So few samples between two pressures say nothing of a standstill."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A pressure that neighbouring holds share, and the samples [begin, last] it may take."""

    kpa: float
    tolerance_kpa: float
    begin: int
    last: int
    """One before `begin` where the pressure never came near."""
    coming: bool = False
    """True where the record ends while the pressure is on its way there."""


def levels(
    work: Working, holds: Sequence[Segment], after: Segment | None, begin: int, end: int
) -> list[Level | None]:
    """For each hold within the samples [begin, end) the level it belongs to.

    None where the pressure tells nothing apart. `after` is the segment that follows the holds,
    if what it asks may end the last of them.
    """
    whole = (*holds, after) if after is not None else tuple(holds)
    asked = _asked(whole, work, begin)
    steps = [
        one for place, one in enumerate(asked) if not place or one[0] != asked[place - 1][0]
    ]
    if len(steps) < 2 or begin >= end:
        return [None] * len(holds)
    laid = _laid(work, steps, begin, end)
    places: list[int] = []
    for number in range(len(holds)):
        moved = number > 0 and asked[number][0] != asked[number - 1][0]
        places.append((places[-1] if places else 0) + moved)
    last = next((n for n, one in enumerate(laid) if one.begin >= end), len(laid)) - 1
    if end == work.size and last > 0:
        laid[last] = _coming_at_end(work, laid[last - 1], laid[last])
    if end == work.size and 0 <= last < len(laid) - 1:
        here = [hold for hold, place in zip(holds, places, strict=True) if place == last]
        laid[last] = _left_at_end(work, here, laid[last], steps[last + 1])
    return [laid[place] for place in places]


def _coming_at_end(work: Working, before: Level, level: Level) -> Level:
    """The level, marked where the record ends on the way to it from the one before."""
    line = filled(work.pressure_kpa if work.pressure_kpa is not None else work.middle_c)
    if (np.abs(line[level.begin : level.last + 1] - level.kpa) <= level.tolerance_kpa).any():
        return level
    gone = (line - before.kpa) / (level.kpa - before.kpa)
    stands = _stands(work.at_s, gone, before.last, level.last)
    return replace(level, coming=bool(gone[level.last] > 0) and not stands)


def _left_at_end(
    work: Working, holds: Sequence[Segment], level: Level, after: tuple[float, float]
) -> Level:
    """The level as it was left, if the record ends on the way from it to the next."""
    line = filled(work.pressure_kpa if work.pressure_kpa is not None else work.middle_c)
    there = np.flatnonzero(
        np.abs(line[level.begin : level.last + 1] - level.kpa) <= level.tolerance_kpa
    )
    left = level.begin + int(there[-1]) if there.size else level.last
    gone = (line - level.kpa) / (after[0] - level.kpa)
    if left == level.last or gone[level.last] <= 0 or not _had(work, holds, level, left):
        return level
    return level if _stands(work.at_s, gone, left, level.last) else replace(level, last=left)


def _had(work: Working, holds: Sequence[Segment], level: Level, last: int) -> bool:
    """True where soaks that share a level have had their minutes at it by a sample."""
    soaks = [one for one in holds if one.kind == SOAK]
    if not soaks:
        return True
    inside = work.inside(soaks[0].target_c, soaks[0].tolerance_c)
    inside &= work.pressed(level.kpa, level.tolerance_kpa)
    steps = np.diff(work.at_s[level.begin : last + 1])
    runs = inside[level.begin : last] & ~work.gap[level.begin : last]
    least_min = sum(one.min_minutes or 0.0 for one in soaks)
    return bool(steps[runs].sum() >= least_min * 60.0 - ROUNDING_S)


def _asked(segments: Sequence[Segment], work: Working, begin: int) -> list[tuple[float, float]]:
    """(level, tolerance) of each segment; who asks none keeps what was, at first what stood.

    Empty where nobody asks, or the run has no pressure.
    """
    wanted = [_own(one) for one in segments]
    first = next((one for one in wanted if one is not None), None)
    if first is None or work.pressure_kpa is None or begin >= work.size:
        return []
    stood = float(filled(work.pressure_kpa)[begin])
    level = first if abs(stood - first[0]) <= first[1] else (stood, first[1])
    found = []
    for one in wanted:
        level = level if one is None else one
        found.append(level)
    return found


def _own(segment: Segment) -> tuple[float, float] | None:
    if segment.pressure_kpa is None:
        return None
    return segment.pressure_kpa, segment.pressure_tolerance_kpa or 0.0


def _laid(
    work: Working, steps: Sequence[tuple[float, float]], begin: int, end: int
) -> list[Level]:
    """The level of each step, in order."""
    line = filled(work.pressure_kpa if work.pressure_kpa is not None else work.middle_c)
    targets, bands = [kpa for kpa, _ in steps], [band for _, band in steps]
    stretches = lay(line[begin:end], targets, bands, work.weight_s[begin:end])
    found = []
    for place, (kpa, band) in enumerate(steps):
        first, last = end, end - 1
        if place < len(stretches):
            first = begin + stretches[place].begin
        if place + 1 < len(stretches):
            way = _Way(at_s=work.at_s, line=line, leaves=steps[place], comes=steps[place + 1])
            last = _departure(way, first, _shifted(stretches[place + 1], begin))
        found.append(Level(kpa=kpa, tolerance_kpa=band, begin=first, last=last))
    return found


def _shifted(stretch: Stretch, by: int) -> Stretch:
    return Stretch(
        begin=stretch.begin + by, end=stretch.end + by, approached=stretch.approached
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Way:
    """The pressure on its way from one level to another."""

    at_s: Floats
    line: Floats
    leaves: tuple[float, float]
    comes: tuple[float, float]


def _departure(way: _Way, begin: int, after: Stretch) -> int:
    """The last sample before the pressure leaves its level, which it took from `begin` on."""
    (from_kpa, band), (to_kpa, to_band) = way.leaves, way.comes
    gone = (way.line - from_kpa) / (to_kpa - from_kpa)
    there = gone[after.begin : after.end] >= 1.0 - NEAR
    there |= np.abs(way.line[after.begin : after.end] - to_kpa) <= to_band
    hits = np.flatnonzero(there)
    arrived = after.begin + int(hits[0]) if hits.size else after.end - 1
    in_band = np.flatnonzero(np.abs(way.line[begin:arrived] - from_kpa) <= band)
    left = begin + int(in_band[-1]) if in_band.size else after.begin - 1
    return arrived - 1 if _stands(way.at_s, gone, left, arrived) else left


def _stands(at_s: Floats, gone: Floats, left: int, arrived: int) -> bool:
    """True where the way has a half of its time in which there was no headway."""
    if arrived - left <= FEW:
        return False
    times, way = at_s[left : arrived + 1], gone[left : arrived + 1]
    half_s = (times[-1] - times[0]) / 2.0
    begins = np.flatnonzero(times <= times[0] + half_s)
    ends = np.searchsorted(times, times[begins] + half_s)
    headway = way[np.minimum(ends, way.size - 1)] - way[begins]
    return bool(headway.min() < STANDSTILL * (way[-1] - way[0]))

"""The clock of a soak: time in band, time out of it, the longest dip, time that nobody knows.

Each sample stands for the time until the next one. So the clock runs from a sample that has
every working thermocouple in band, and stands from one that has not. It stands across gaps of
the record and while a thermocouple is silent, which counts as neither in nor out of band. A dip
lasts from the first sample out of band to the first back in, silence and gaps included, since
nobody saw the load come back sooner.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.heat.channels import Bools, Working
from ringwright.heat.trace import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """What became of the time between a segment's first and last sample, in seconds."""

    in_s: float
    out_s: float
    longest_dip_s: float
    longest_dip_at: int | None
    """The sample at which the longest dip began."""
    gap_s: float
    gap_at: int | None
    """The sample before the longest gap."""
    silent_s: float
    silent_at: int | None
    """The first sample at which some thermocouple was silent."""


def clock(work: Working, inside: Bools, outside: Bools, first: int, last: int) -> Clock:
    """The clock over the samples first … last; `inside` and `outside` (n,) as the band says."""
    steps = np.diff(work.at_s[first : last + 1])
    gap = work.gap[first:last]
    within, beyond = inside[first:last], outside[first:last]
    silent = ~within & ~beyond & ~gap
    dip_s, dip_at = longest_out(work.at_s, inside, outside, first, last)
    gaps = np.where(gap, steps, 0.0)
    return Clock(
        in_s=float(steps[within & ~gap].sum()),
        out_s=float(steps[beyond & ~gap].sum()),
        longest_dip_s=dip_s,
        longest_dip_at=dip_at,
        gap_s=float(gaps.sum()),
        gap_at=first + int(np.argmax(gaps)) if gap.any() else None,
        silent_s=float(steps[silent].sum()),
        silent_at=first + int(np.argmax(silent)) if silent.any() else None,
    )


def longest_out(
    at_s: Floats, inside: Bools, outside: Bools, first: int, last: int
) -> tuple[float, int | None]:
    """(length [s], first sample) of the longest stretch out of band within first … last."""
    away = ~inside[first : last + 1]
    edges = np.diff(away.astype(np.int8), prepend=0, append=0)
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    places = np.where(outside[first : last + 1], np.arange(away.size), away.size)
    next_out = np.append(np.minimum.accumulate(places[::-1])[::-1], away.size)[begins]
    seen = next_out < ends
    if not seen.any():
        return 0.0, None
    times = at_s[first : last + 1]
    lengths = times[np.minimum(ends[seen], away.size - 1)] - times[next_out[seen]]
    longest = int(np.argmax(lengths))
    return float(lengths[longest]), first + int(next_out[seen][longest])

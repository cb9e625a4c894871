"""What the thermocouples of a run say: which of them work, what each read, where it is silent.

A thermocouple that is blank, or says one and the same, through 30 minutes of readings has
failed for the whole run. The minutes of a gap in the record are no readings, so that two equal
readings on either side of one accuse nobody; a thermocouple that never read anything has failed
too.

An interval over three times the median interval is a gap. A single thermocouple's blank cells
are judged by the same measure: up to three median intervals its last reading stands, longer it
is silent, and while one is silent nobody can say that all are in band.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ringwright.heat.trace import Floats, Trace

Bools = NDArray[np.bool_]
FAILED_S: Final = 30 * 60.0
GAP_MEDIANS: Final = 3.0
ROUNDING_S: Final = 1e-5
"""Instants are kept to a microsecond; what differs by less than this is the same time."""
ROUNDING: Final = 1e-6
"""Band edges are inside; a millionth of a degree or kPa beyond one is rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Working:
    """The readings that decide a run: k thermocouples that work, at n samples."""

    at_s: Floats
    """(n,) seconds."""
    step_s: float
    """The median interval."""
    gap: Bools
    """(n - 1,) True where the interval that begins at a sample is a gap."""
    names: tuple[str, ...]
    """The k that work, in the file's order."""
    failed: tuple[str, ...]
    read_c: Floats
    """(k, n) as read, NaN where blank."""
    held_c: Floats
    """(k, n) with the last reading standing over short blanks; NaN where silent."""
    middle_c: Floats
    """(n,) median of the thermocouples, silences filled by the readings around them."""
    coldest_c: Floats
    hottest_c: Floats
    """(n,) over those that are not silent; NaN where all are."""
    all_known: Bools
    """(n,) True where none is silent."""
    pressure_kpa: Floats | None
    """(n,) the same way; None where the run has none, or nothing but blanks."""

    @property
    def size(self) -> int:
        """Samples."""
        return int(self.at_s.size)

    @property
    def weight_s(self) -> Floats:
        """(n,) the time that each sample stands for; a gap counts no more than a short one."""
        if self.size < 2:
            return np.ones(self.size)
        longest_s = GAP_MEDIANS * self.step_s
        stands: Floats = np.minimum(np.append(np.diff(self.at_s), self.step_s), longest_s)
        return stands

    def inside(self, target_c: float, tolerance_c: float) -> Bools:
        """(n,) True where every working thermocouple is known to be in band."""
        low, high = target_c - tolerance_c - ROUNDING, target_c + tolerance_c + ROUNDING
        return self.all_known & (self.coldest_c >= low) & (self.hottest_c <= high)

    def outside(self, target_c: float, tolerance_c: float) -> Bools:
        """(n,) True where some working thermocouple is known to be out of band."""
        low, high = target_c - tolerance_c - ROUNDING, target_c + tolerance_c + ROUNDING
        beyond: Bools = (self.coldest_c < low) | (self.hottest_c > high)
        return beyond

    def pressed(self, level_kpa: float, tolerance_kpa: float) -> Bools:
        """(n,) True where the pressure is known to be in band."""
        if self.pressure_kpa is None:
            return np.zeros(self.size, dtype=bool)
        near: Bools = np.abs(self.pressure_kpa - level_kpa) <= tolerance_kpa + ROUNDING
        return near


def working(trace: Trace) -> Working:
    """The readings of a trace that decide, and what failed; of any size, empty too."""
    at_s = trace.at_s
    steps = np.diff(at_s)
    step_s = float(np.median(steps)) if steps.size else 0.0
    gap = steps > GAP_MEDIANS * step_s + ROUNDING_S
    clock = np.concatenate([[0.0], np.cumsum(np.where(gap, 0.0, steps))])
    failed = tuple(
        name for name, read in trace.temperatures_c.items() if has_failed(clock, read)
    )
    names = tuple(name for name in trace.temperatures_c if name not in failed)
    read_c = np.array([trace.temperatures_c[name] for name in names]).reshape(
        len(names), trace.size
    )
    longest_s = GAP_MEDIANS * step_s + ROUNDING_S
    held_c = np.array([held(at_s, one, longest_s) for one in read_c]).reshape(read_c.shape)
    pressure = trace.pressure_kpa
    if pressure is not None and np.isnan(pressure).all():
        pressure = None
    return Working(
        at_s=at_s,
        step_s=step_s,
        gap=gap,
        names=names,
        failed=failed,
        read_c=read_c,
        held_c=held_c,
        middle_c=_middle(held_c),
        coldest_c=np.fmin.reduce(held_c, axis=0, initial=np.nan),
        hottest_c=np.fmax.reduce(held_c, axis=0, initial=np.nan),
        all_known=~np.isnan(held_c).any(axis=0),
        pressure_kpa=held(at_s, pressure, longest_s) if pressure is not None else None,
    )


def has_failed(clock_s: Floats, read: Floats) -> bool:
    """True for a channel that is blank or constant through 30 minutes of readings.

    `clock_s` (n,) is the time of each sample with the gaps left out.
    """
    known = np.flatnonzero(np.isfinite(read))
    if not known.size:
        return True
    blank = np.isnan(read)
    return _through(clock_s, np.diff(blank) != 0, blank) or _through(
        clock_s[known], np.diff(read[known]) != 0, np.ones(known.size, dtype=bool)
    )


def _through(clock_s: Floats, changes: Bools, counts: Bools) -> bool:
    """True where a run without change, of those that count, spans the 30 minutes."""
    first = np.concatenate([[0], np.flatnonzero(changes) + 1])
    last = np.concatenate([first[1:] - 1, [clock_s.size - 1]])
    spans = clock_s[last] - clock_s[first]
    return bool(np.any(counts[first] & (spans >= FAILED_S - ROUNDING_S)))


def held(at_s: Floats, read: Floats, longest_s: float) -> Floats:
    """(n,) the readings, each standing over blanks while the next is at most that far away."""
    known = np.flatnonzero(np.isfinite(read))
    if known.size in (0, read.size):
        return read
    places = np.arange(read.size)
    after = np.searchsorted(known, places, side="left")
    before = np.searchsorted(known, places, side="right") - 1
    within = (before >= 0) & (after < known.size)
    last, following = known[np.maximum(before, 0)], known[np.minimum(after, known.size - 1)]
    stands = within & (at_s[following] - at_s[last] <= longest_s)
    return np.where(stands, read[last], read)


def filled(values: Floats) -> Floats:
    """(n,) with no blank left: the reading before, or at the beginning the first one."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size in (0, values.size):
        return values
    before = np.searchsorted(known, np.arange(values.size), side="right") - 1
    return values[known[np.maximum(before, 0)]]


def _middle(held_c: Floats) -> Floats:
    if not held_c.size:
        return np.full(held_c.shape[1], np.nan)
    whole = np.array([filled(one) for one in held_c])
    return np.asarray(np.median(whole, axis=0), dtype=np.float64)

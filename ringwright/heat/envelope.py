"""The envelope of good runs, and when a run leaves it, before any limit is broken.

Past met runs of one recipe (and of furnaces that behave alike) are laid over each other by the
minutes since each began. Minute by minute the median says what is usual, the 15th and the 85th
percentile how far runs differ. A run departs when for some minutes on end one of its features
lies further from the median than the slack allows.

The slack is not chosen but learned, since the minutes of a run hang together and no table says
how often a whole run strays somewhere. Each past run is laid beside the envelope of all others
and its furthest stray (in robust standard deviations, kept up for three minutes) is noted. With
n such strays the slack is the one at place ceil((1 - alpha)(n + 1)), the largest where there
are fewer than nineteen. If the next good run is like those before it, its stray is as likely to
take any place among them, so that it is flagged with probability (n + 1 - place)/(n + 1): the
conformal prediction of V. Vovk, A. Gammerman & G. Shafer, Algorithmic Learning in a Random
World (2005), in the leave-one-out form. In-control runs that were drawn (run-to-run offsets,
normal or with long tails, wandering within the run, starts shifted by minutes) were flagged at
or below that rate; a fixed slack of four standard deviations would have flagged nearly four in
ten of them with ten past runs, and one in eight with twenty. What the rate does not hold for is
a furnace that changes: then more runs are flagged, and rightly.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ringwright.core.errors import Refused
from ringwright.heat.minutes import FEATURES, minute_by_minute
from ringwright.heat.trace import Floats, Trace

FEWEST_RUNS: Final = 10
"""With fewer met runs there is no envelope: one in ten good runs would be flagged, or more."""
MOST_RUNS: Final = 40
"""Only the newest count: a furnace of last year is another furnace."""
ALPHA: Final = 0.05
"""Share of good runs that may be flagged once there are runs enough to ask for it."""
LASTING_MIN: Final = 3
"""Minutes on end outside, so that a spike or a door is no departure."""
LEAST_SLACK: Final = 3.0
USUAL: Final = (0.05, 0.95)
"""Percentiles of the past runs that are drawn as usual."""
COVERED: Final = 0.8
"""Share of the past runs that must have read a minute for it to be compared."""
SMOOTHED_MIN: Final = 15
"""The spread of few runs at one minute is a poor guess, that of a quarter of an hour better."""
LEAST_SIGMA: Final = (0.5, 0.5, 0.5, 1.0)
"""What a recorder resolves anyway: degC, degC, degC, kPa (common practice, no source)."""
BELOW, ABOVE = "below", "above"
Places = NDArray[np.intp]
_SPREAD: Final = (0.15, 0.85)
"""A tenth to a fifth closer bands than quartiles at the same false alarms, in runs drawn."""
_SPREAD_SIGMAS: Final = 2.0728667789875797
"""How far apart those lie in a normal distribution."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Band:
    """One feature minute by minute, each (minutes,); NaN where too few runs read it."""

    median: Floats
    usual_low: Floats
    usual_high: Floats
    low: Floats
    """Further out for some minutes is a departure; never inside the usual."""
    high: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Envelope:
    """What good runs of a recipe read, minute by minute since they began."""

    runs: int
    bands: Mapping[str, Band]
    """By the names in `FEATURES`; degC, pressure in kPa."""
    slack: float
    """Robust standard deviations from the median to the edge of the band."""
    false_alarms: float
    """Share of good runs that will be flagged, as long as they are like those before."""

    @property
    def minutes(self) -> int:
        """Length of the bands; minute m is its place m."""
        return int(next(iter(self.bands.values())).median.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """The first time that a run left the envelope and stayed outside."""

    minute: int
    """Since the run began, when it had been outside long enough to be flagged."""
    since_min: int
    """The first of those minutes."""
    feature: str
    direction: str
    """Below or above the band."""
    value: float
    """At `minute`; degC, of the pressure kPa."""
    low: float
    high: float
    """The band at `minute`."""


def envelope_of(traces: Sequence[Trace]) -> Envelope:
    """The envelope of met runs of one recipe, oldest first; the newest forty are taken.

    A trace's first reading is the run's beginning; failed thermocouples are left out of it.
    Percentiles lie at position (n - 1) q of the sorted runs. Refused: fewer than ten runs.
    """
    return envelope_of_minutes([minute_by_minute(one) for one in traces[-MOST_RUNS:]])


def first_departure(trace: Trace, envelope: Envelope) -> Departure | None:
    """When a run, finished or in progress, first left the envelope; None while it has not.

    Minutes that the envelope does not reach, or that were not read, are not compared.
    """
    return departure_of_minutes(minute_by_minute(trace), envelope)


def envelope_of_minutes(runs: Sequence[Floats]) -> Envelope:
    """`envelope_of`, of runs that are laid out by `minute_by_minute` already.

    Refused: fewer than ten runs.
    """
    runs = runs[-MOST_RUNS:]
    if len(runs) < FEWEST_RUNS:
        raise Refused(
            f"an envelope wants {FEWEST_RUNS} met runs of this recipe; there are {len(runs)}"
        )
    stacked = _Stacked(_laid_over(runs))
    place = min(len(runs), math.ceil((1 - ALPHA) * (len(runs) + 1)))
    slack = max(LEAST_SLACK, float(np.sort(_strays(stacked))[place - 1]))
    median, sigma = stacked.quantile(0.5), _sigma(*map(stacked.quantile, _SPREAD))
    usual_low, usual_high = map(stacked.quantile, USUAL)
    low = np.fmin(usual_low, median - slack * sigma)
    high = np.fmax(usual_high, median + slack * sigma)
    lines = (median, usual_low, usual_high, low, high)
    return Envelope(
        runs=len(runs),
        bands={name: _band(lines, place) for place, name in enumerate(FEATURES)},
        slack=slack,
        false_alarms=(len(runs) + 1 - place) / (len(runs) + 1),
    )


def departure_of_minutes(run: Floats, envelope: Envelope) -> Departure | None:
    """`first_departure`, of a run that is laid out by `minute_by_minute` already."""
    minutes = min(len(run), envelope.minutes)
    values = run[:minutes]
    low, high = (
        np.stack([getattr(envelope.bands[name], side)[:minutes] for name in FEATURES], axis=1)
        for side in ("low", "high")
    )
    below, above = _lasting(low - values) > 0.0, _lasting(values - high) > 0.0
    out = np.flatnonzero((below | above).any(axis=1))
    if not out.size:
        return None
    minute = int(out[0])
    # Of several features the one furthest out, by the width of its own band.
    far = np.maximum(low - values, values - high)[minute] / (high - low)[minute]
    place = int(np.argmax(np.where((below | above)[minute], far, -np.inf)))
    return Departure(
        minute=minute,
        since_min=minute - LASTING_MIN + 1,
        feature=FEATURES[place],
        direction=BELOW if below[minute, place] else ABOVE,
        value=float(values[minute, place]),
        low=float(low[minute, place]),
        high=float(high[minute, place]),
    )


def _laid_over(runs: Sequence[Floats]) -> Floats:
    """(runs, minutes, features), the shorter ones filled up with blanks."""
    longest = max(len(one) for one in runs)
    found = np.full((len(runs), longest, len(FEATURES)), np.nan)
    for over, one in zip(found, runs, strict=True):
        over[: len(one)] = one
    return found


class _Stacked:
    """Runs sorted at each minute, for the percentiles of all and of all but one.

    Minutes that too few of them read are blank from here on.
    """

    def __init__(self, values: Floats) -> None:
        read = np.count_nonzero(~np.isnan(values), axis=0)
        enough = read >= max(2, COVERED * len(values))
        self.values: Floats = np.where(enough, values, np.nan)
        self._count = np.where(enough, read, 0)[None]
        order = np.argsort(self.values, axis=0)
        self._sorted = np.take_along_axis(self.values, order, axis=0)
        self._rank = np.argsort(order, axis=0)

    def quantile(self, share: float) -> Floats:
        """(minutes, features), at position (n - 1) share of those that read; else NaN."""
        low, part = self._place(self._count, share)
        above = self._at(np.minimum(low + 1, self._count - 1))
        found: Floats = _between(self._at(low), above, part)[0]
        return found

    def quantile_of_others(self, share: float) -> Floats:
        """(runs, minutes, features): of all runs that read but the one."""
        count = self._count - 1
        low, part = self._place(count, share)
        high = np.minimum(low + 1, count - 1)
        # Without its own run, everything from that run's place on stands one lower.
        below = np.where(low < self._rank, self._at(low), self._at(low + 1))
        above = np.where(high < self._rank, self._at(high), self._at(high + 1))
        return _between(below, above, part)

    def _place(self, count: Places, share: float) -> tuple[Places, Floats]:
        position = np.maximum((count - 1) * share, 0.0)
        low = np.floor(position).astype(np.intp)
        return low, position - low

    def _at(self, place: Places) -> Floats:
        inside = np.clip(place, 0, len(self.values) - 1)
        return np.take_along_axis(self._sorted, inside, axis=0)


def _between(below: Floats, above: Floats, part: Floats) -> Floats:
    between: Floats = below + part * (above - below)
    return between


def _strays(stacked: _Stacked) -> Floats:
    """(runs,): how far each run strays for some minutes from the envelope of all others."""
    sigma = _sigma(*map(stacked.quantile_of_others, _SPREAD))
    off = (stacked.values - stacked.quantile_of_others(0.5)) / sigma
    furthest = np.maximum(_lasting(off), _lasting(-off))
    strays: Floats = furthest.max(axis=(1, 2), initial=0.0)
    return strays


def _sigma(lower: Floats, upper: Floats) -> Floats:
    """Robust standard deviation from two percentiles, smoothed over the minutes (axis -2)."""
    sigma: Floats = np.maximum(
        _smoothed((upper - lower) / _SPREAD_SIGMAS), np.array(LEAST_SIGMA)
    )
    return sigma


def _smoothed(values: Floats) -> Floats:
    """Mean over the quarter of an hour around each minute, of what is there."""
    known = np.isfinite(values)
    total, count = (_moving_sum(one) for one in (np.where(known, values, 0.0), known * 1.0))
    found: Floats = np.divide(
        total, count, out=np.full(values.shape, np.nan), where=count > 0.5
    )
    return found


def _moving_sum(values: Floats) -> Floats:
    reach, minutes = SMOOTHED_MIN // 2, values.shape[-2]
    sums = np.zeros((*values.shape[:-2], minutes + 1, values.shape[-1]))
    np.cumsum(values, axis=-2, out=sums[..., 1:, :])
    place = np.arange(minutes)
    ahead, behind = np.minimum(place + reach + 1, minutes), np.maximum(place - reach, 0)
    found: Floats = sums[..., ahead, :] - sums[..., behind, :]
    return found


def _lasting(off: Floats) -> Floats:
    """(…, minutes, features): the least of each minute and those just before it that count.

    -inf where one of them was not read.
    """
    known: Floats = np.where(np.isnan(off), -np.inf, off)
    found = known.copy()
    for late in range(1, LASTING_MIN):
        found[..., late:, :] = np.minimum(found[..., late:, :], known[..., :-late, :])
        found[..., :late, :] = -np.inf
    return found


def _band(lines: Sequence[Floats], feature: int) -> Band:
    median, usual_low, usual_high, low, high = (one[:, feature] for one in lines)
    return Band(median=median, usual_low=usual_low, usual_high=usual_high, low=low, high=high)

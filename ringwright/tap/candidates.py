"""Where to look for modes: peaks that stand over the noise in windowed spectra."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from scipy.fft import rfft

from ringwright.tap.decay import Floats

# The largest of 24,000 bins of noise stands 10 dB over their mean; in one record of 20,000
# it stands 13 dB.
STANDS: Final = 20.0
CONTRAST: Final = 8.0
LEAST_WINDOW: Final = 512
NEIGHBOURS: Final = 5
BLOCK: Final = 48
LEAST_HZ: Final = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A peak of a windowed spectrum."""

    frequency: float
    """Cycles a sample."""
    width: float
    """Its window's resolution, cycles a sample."""
    stands: float
    """Its power over the noise around it, a ratio."""


def find_candidates(samples: Floats, rate_hz: float, faintest: float) -> list[Candidate]:
    """Peaks in spectra of the whole tap and of ever shorter beginnings, strongest first.

    A short window hears a quick decay that a long one drowns in noise. `faintest` is an
    amplitude below which nothing counts, whatever the noise.
    """
    found: list[Candidate] = []
    length = len(samples)
    while True:
        for one in _peaks(samples[:length], LEAST_HZ / rate_hz, faintest):
            # A coarse window tells nothing new of what a finer one has already named.
            if all(abs(one.frequency - old.frequency) > 3 * one.width for old in found):
                found.append(one)
        if length // 4 < LEAST_WINDOW:
            return sorted(found, key=lambda one: -one.stands)
        length //= 4


def _peaks(samples: Floats, least: float, faintest: float) -> list[Candidate]:
    count = len(samples)
    power = np.abs(rfft((samples - samples.mean()) * np.hanning(count))) ** 2
    # A tone of amplitude A stands A N / 4 high behind this window.
    floor = np.maximum(noise_floor(power), (faintest * count / 4) ** 2)
    stands = power / floor
    reach = 2 * NEIGHBOURS + 1
    padded = np.pad(power, NEIGHBOURS, mode="edge")
    view = np.lib.stride_tricks.sliding_window_view(padded, reach)
    highest = np.flatnonzero((power >= view.max(axis=1)) & (stands > STANDS))
    return [
        Candidate(
            frequency=_vertex(power, int(at)) / count,
            width=1.0 / count,
            stands=float(stands[at]),
        )
        for at in highest
        if max(least, 2.0 / count) < at / count < 0.5 - 2.0 / count
        and power[at] > CONTRAST * _around(power, int(at))
    ]


def _around(power: Floats, at: int) -> float:
    """The middle of what lies beside a peak: the skirt of a stronger one is no peak."""
    reach = 40
    beside = np.r_[
        power[max(0, at - reach) : max(0, at - NEIGHBOURS)],
        power[at + NEIGHBOURS + 1 : at + reach],
    ]
    return float(np.median(beside)) if len(beside) else 0.0


def _vertex(power: Floats, at: int) -> float:
    """The top of the parabola through three bins' logarithms: a first guess, no answer."""
    if not 0 < at < len(power) - 1:
        return float(at)
    left, mid, right = np.log(power[at - 1 : at + 2] + 1e-300)
    bend = left - 2 * mid + right
    return at + (0.5 * float(left - right) / bend if bend < 0 else 0.0)


def noise_floor(power: Floats) -> Floats:
    """Mean noise power at each bin, from medians of blocks (coloured noise has no one floor).

    The median of an exponential distribution is ln 2 of its mean.
    """
    edges = [0]
    # Handling noise falls steeply with frequency, so the lowest blocks are short.
    while edges[-1] // 3 < BLOCK and edges[-1] + BLOCK < len(power):
        edges.append(edges[-1] + min(BLOCK, max(6, edges[-1] // 3)))
    middles = [(a + b - 1) / 2 for a, b in pairwise(edges)]
    medians = [float(np.median(power[a:b])) for a, b in pairwise(edges)]
    above = max(1, (len(power) - edges[-1]) // BLOCK)
    size = (len(power) - edges[-1]) // above
    whole = power[edges[-1] : edges[-1] + above * size].reshape(above, size)
    middles += list(edges[-1] + np.arange(above) * size + (size - 1) / 2)
    medians += list(np.median(whole, axis=1))
    floor = np.interp(np.arange(len(power)), middles, medians) / np.log(2)
    least = float(np.max(power)) * 1e-28 + 1e-300
    return np.asarray(np.maximum(floor, least), dtype=np.float64)

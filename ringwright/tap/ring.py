"""The modes of one ring: look, fit, take out, look again."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.fft import rfft

from ringwright.tap.candidates import LEAST_HZ, Candidate, find_candidates
from ringwright.tap.decay import Floats, Oscillation
from ringwright.tap.fitting import Band, Fit, fit
from ringwright.tap.pencil import exponents, guesses, shifted_band

LOOKS: Final = 3
MOST_MODES: Final = 24
MOST_A_BAND: Final = 6
REACH_BINS: Final = 64
JOIN_BINS: Final = 12.0
# After eight times the decay time exp(-16) of the energy is left: nothing but noise.
DECAYS: Final = 8.0
LEAST_SAMPLES: Final = 256
# No recorder hears more than 120 dB; under that stand the rounding errors of the computing.
FAINT: Final = 1e-6
# On top of the criterion's price: a band is the best of many places that were looked at.
MARGIN: Final = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tone:
    """One oscillation of one ring, as fitted."""

    oscillation: Oscillation
    decay: float
    """1/s; steady tones have none."""
    decay_u: float
    frequency_hz: float
    """Undamped natural frequency, f_d / sqrt(1 - zeta^2)."""
    uncertainty_hz: float
    """Standard uncertainty of the fit."""
    damping_ratio: float
    snr: float
    """Power of its peak in the spectrum over the noise in a bin beside it, a ratio."""
    size: float
    """Its amplitude at the ring's first sample."""


@dataclass(slots=True)
class _Group:
    """Modes too near to be told apart without one another, and what fits them."""

    fit: Fit
    count: int
    first: int
    last: int


def tones_of(samples: Floats, rate_hz: float) -> list[Tone]:
    """Every oscillation of one ring, steady ones too, in rising frequency."""
    groups: list[_Group] = []
    left = samples - np.mean(samples)
    faintest = FAINT * float(np.std(left))
    for _ in range(LOOKS):
        heard = find_candidates(left, rate_hz, faintest)
        seen = [one for one in heard if _new(one, groups)]
        if not seen or sum(len(group.fit.modes) for group in groups) >= MOST_MODES:
            break
        added = 0
        for some in _joined(seen):
            group = _fitted(left, some)
            if group is not None:
                groups.append(group)
                added += 1
                left = left - _sound(group.fit.modes, len(left))
        if not added:
            break
    groups = _polished(samples - np.mean(samples), groups)
    tones = [tone for group in groups for tone in _tones(group, rate_hz)]
    return sorted(tones, key=lambda tone: tone.frequency_hz)


def _sound(modes: Iterable[Oscillation], count: int) -> Floats:
    sound = np.zeros(count)
    for one in modes:
        sound += one.at(count)
    return sound


def _new(one: Candidate, groups: list[_Group]) -> bool:
    """Whether a peak is more than what the fits beside it left over.

    A real blade is not quite linear, so a strong mode leaves crumbs around it.
    """
    for group in groups:
        for mode in group.fit.modes:
            width = abs(mode.exponent.real) / (2 * np.pi)
            near = abs(one.frequency - mode.exponent.imag / (2 * np.pi))
            if near < 6 * one.width + 4 * width:
                return False
    return True


def _joined(seen: list[Candidate]) -> list[list[Candidate]]:
    """Candidates in groups of neighbours; the strongest group first."""
    ordered = sorted(seen[:MOST_MODES], key=lambda one: one.frequency)
    groups: list[list[Candidate]] = []
    for one in ordered:
        before = groups[-1][-1] if groups else None
        if before and one.frequency - before.frequency < JOIN_BINS * max(
            one.width, before.width
        ):
            groups[-1].append(one)
        else:
            groups.append([one])
    return sorted(groups, key=lambda group: -max(one.stands for one in group))


def _fitted(left: Floats, some: Sequence[Candidate]) -> _Group | None:
    """The fit with as many modes as the criterion pays for; None where noise fits as well."""
    low, high = some[0].frequency, some[-1].frequency
    half = (high - low) / 2 + REACH_BINS / 2 * max(one.width for one in some)
    centre = (low + high) / 2
    points, step = shifted_band(left, centre, half)
    vectors, _ = exponents(points, MOST_A_BAND)

    def starts(order: int) -> list[complex]:
        found = guesses(vectors, order) / step + 2j * np.pi * centre
        return [complex(min(one.real, 0.0), one.imag) for one in found]

    first = starts(len(some))
    slowest = min((-one.real for one in first), default=0.0)
    count = _enough(len(left), slowest)
    group = _band(left, count, low, high)
    bare = fit(group, ())
    best = _grown(group, starts, bare, len(some)) if bare else None
    if best is None or not best.modes:
        return None
    return _Group(fit=best, count=count, first=int(group.bins[0]), last=int(group.bins[-1]))


def _grown(band: Band, starts: Callable[[int], list[complex]], best: Fit, expected: int) -> Fit:
    """More and more modes, until one beyond those that were seen does not pay."""
    for order in range(1, MOST_A_BAND + 1):
        tried = fit(band, starts(order), MARGIN)
        if tried is not None and tried.criterion < best.criterion and _inside(tried, band):
            best = tried
        elif order > expected:
            break
    return best


def _inside(tried: Fit, band: Band) -> bool:
    """Whether every mode lies in the band and none grows out of all measure."""
    low, high = band.bins[0] / band.count, band.bins[-1] / band.count
    return all(
        low <= mode.exponent.imag / (2 * np.pi) <= high
        and mode.exponent.real * band.count < 1.0
        for mode in tried.modes
    )


def _enough(length: int, decay: float) -> int:
    """So many samples that nothing of the ring is left behind them."""
    if decay <= 0:
        return length
    return int(min(length, max(LEAST_SAMPLES, DECAYS / decay)))


def _band(left: Floats, count: int, low: float, high: float) -> Band:
    spectrum = rfft(left[:count])
    first = max(2, int(low * count) - REACH_BINS)
    last = min(len(spectrum) - 2, int(high * count) + REACH_BINS)
    bins = np.arange(first, last + 1, dtype=np.float64)
    return Band(bins=bins, data=spectrum[first : last + 1], count=count)


def _polished(samples: Floats, groups: list[_Group]) -> list[_Group]:
    """Each group fitted again with all others taken out, twice around."""
    spectra = {group.count: rfft(samples[: group.count]) for group in groups}
    for _ in range(2 if len(groups) > 1 else 0):
        for group in groups:
            bins = np.arange(group.first, group.last + 1, dtype=np.float64)
            data = spectra[group.count][group.first : group.last + 1].copy()
            for other in groups:
                if other is not group:
                    for mode in other.fit.modes:
                        data -= mode.spectrum(bins, group.count)
            band = Band(bins=bins, data=data, count=group.count)
            again = fit(band, [mode.exponent for mode in group.fit.modes], MARGIN)
            if again is not None and _inside(again, band):
                group.fit = again
    return groups


def _tones(group: _Group, rate_hz: float) -> list[Tone]:
    bins = np.arange(group.first, group.last + 1, dtype=np.float64)
    return [
        _tone(mode, group.fit, at, rate_hz, bins, group.count)
        for at, mode in enumerate(group.fit.modes)
        if mode.exponent.imag * rate_hz > 2 * np.pi * LEAST_HZ
    ]


def _tone(
    mode: Oscillation, fitted: Fit, at: int, rate_hz: float, bins: Floats, count: int
) -> Tone:
    decay, turn = -mode.exponent.real * rate_hz, mode.exponent.imag * rate_hz
    natural = float(np.hypot(decay, turn))
    part = fitted.covariance[2 * at : 2 * at + 2, 2 * at : 2 * at + 2] * rate_hz**2
    # Of sqrt(decay^2 + turn^2); the fit's own parameter is the growth, minus the decay.
    slope = np.array([-decay, turn]) / natural
    peak = float(np.max(np.abs(mode.spectrum(bins, count)) ** 2))
    return Tone(
        oscillation=mode,
        decay=decay,
        decay_u=math.sqrt(max(float(part[0, 0]), 0.0)),
        frequency_hz=natural / (2 * np.pi),
        uncertainty_hz=math.sqrt(max(float(slope @ part @ slope), 0.0)) / (2 * np.pi),
        damping_ratio=decay / natural,
        snr=peak / fitted.noise,
        size=abs(mode.size),
    )

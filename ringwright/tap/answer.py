"""What a recording says: its modes, each once, from all its taps and channels."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ringwright.tap.decay import Floats
from ringwright.tap.onsets import find_stretches
from ringwright.tap.recording import Recording
from ringwright.tap.ring import Tone, tones_of

LEAST_SNR_DB: Final = 6.0
# A steady tone's decay differs from none by chance alone: four deviations are 1 in 30,000.
DECAYS_SURELY: Final = 4.0
LEAST_FALL: Final = 0.02
MAINS_HZ: Final = (50.0, 60.0)
MAINS_WANDER: Final = 0.002
HUM_FALL: Final = 0.3
MOST_DAMPING: Final = 0.2
MOST_DOUBT: Final = 0.005
SAME: Final = 0.002
FULL_SCALE: Final = 0.999
FLAT: Final = 3
FLAT_RUNS: Final = 4
QUIET: Final = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """A natural frequency of the blade as it was held."""

    frequency_hz: float
    damping_ratio: float
    uncertainty_hz: float
    """One standard deviation: the fit's, or the scatter between taps if that is larger."""
    snr_db: float
    taps: int
    """In how many taps it was heard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a recording says, and what is wrong with it."""

    modes: tuple[Mode, ...]
    sample_rate_hz: float
    seconds: float
    taps: int
    steady_hz: tuple[float, ...]
    """Tones that do not decay, which no blade makes."""
    hum: bool
    """Whether one of those is the mains or a multiple of it."""
    clipped: bool
    """Whether samples were cut off at the recorder's full scale."""


def analyse(recording: Recording) -> Answer:
    """Hear each channel by itself and each tap by itself, then merge what they say."""
    heard = [_channel(one, recording.sample_rate_hz) for one in recording.samples]
    modes: list[Mode] = []
    for found, _, _ in heard:
        modes = _with_channel(modes, found)
    steady = sorted(tone for _, tones, _ in heard for tone in tones)
    return Answer(
        modes=tuple(sorted(modes, key=lambda mode: mode.frequency_hz)),
        sample_rate_hz=recording.sample_rate_hz,
        seconds=recording.seconds,
        taps=max(taps for _, _, taps in heard),
        steady_hz=_apart(steady),
        hum=any(is_mains(tone) for tone in steady),
        clipped=any(_clipped(one) for one in recording.samples),
    )


def as_json(answer: Answer) -> dict[str, Any]:
    """The answer of `ringwright tap --json`."""
    return {
        "modes": [
            {
                "frequency_hz": mode.frequency_hz,
                "damping_ratio": mode.damping_ratio,
                "uncertainty_hz": mode.uncertainty_hz,
                "snr_db": mode.snr_db,
            }
            for mode in answer.modes
        ],
        "sample_rate_hz": answer.sample_rate_hz,
        "seconds": answer.seconds,
    }


def is_mains(frequency_hz: float) -> bool:
    """Whether a tone is the mains' 50 or 60 Hz or a multiple, as far as the mains wander."""
    return any(
        frequency_hz > 0.9 * mains
        and abs(frequency_hz / mains - round(frequency_hz / mains))
        < MAINS_WANDER * round(frequency_hz / mains)
        and round(frequency_hz / mains) <= 20
        for mains in MAINS_HZ
    )


def _channel(samples: Floats, rate_hz: float) -> tuple[list[Mode], list[float], int]:
    """Modes, steady tones and number of taps of one channel."""
    if not np.any(samples != samples[0]):
        return [], [], 0
    rings: list[list[Tone]] = []
    steady: list[float] = []
    for stretch in find_stretches(samples, rate_hz):
        piece = samples[stretch.start : stretch.end]
        tones = tones_of(piece, rate_hz)
        seconds = len(piece) / rate_hz
        rings.append([tone for tone in tones if _rings(tone, seconds)])
        steady += [tone.frequency_hz for tone in tones if _steady(tone, seconds)]
    rings = [ring for ring in rings if ring]
    return _merged(rings), steady, len(rings)


def _falls(tone: Tone, seconds: float) -> bool:
    """Whether a tone surely decays; one at the mains' frequencies must have died away."""
    least = HUM_FALL if is_mains(tone.frequency_hz) else LEAST_FALL
    return tone.decay > DECAYS_SURELY * tone.decay_u and tone.decay * seconds > least


def _stands(tone: Tone) -> bool:
    return 10 * math.log10(tone.snr + 1e-300) >= LEAST_SNR_DB


def _rings(tone: Tone, seconds: float) -> bool:
    return (
        _stands(tone)
        and _falls(tone, seconds)
        and tone.damping_ratio < MOST_DAMPING
        and tone.uncertainty_hz < MOST_DOUBT * tone.frequency_hz
    )


def _steady(tone: Tone, seconds: float) -> bool:
    """Whether a tone goes on through the whole ring, long enough to tell."""
    return (
        _stands(tone)
        and not _falls(tone, seconds)
        and abs(tone.decay) * seconds < 1.0
        and tone.frequency_hz * seconds > 4
    )


def _merged(rings: list[list[Tone]]) -> list[Mode]:
    """The tones of several taps that are one mode, averaged; what most taps lack is no mode."""
    clusters: list[list[Tone]] = []
    for ring in sorted(rings, key=len, reverse=True):
        free = list(range(len(clusters)))
        for tone in ring:
            near = [at for at in free if _same(clusters[at], tone)]
            if near:
                best = min(near, key=lambda at: abs(_middle(clusters[at]) - tone.frequency_hz))
                clusters[best].append(tone)
                free.remove(best)
            else:
                clusters.append([tone])
    return [_averaged(cluster) for cluster in clusters if 2 * len(cluster) >= len(rings)]


def _middle(cluster: list[Tone]) -> float:
    return sum(tone.frequency_hz for tone in cluster) / len(cluster)


def _same(cluster: list[Tone], tone: Tone) -> bool:
    doubt = math.hypot(tone.uncertainty_hz, max(one.uncertainty_hz for one in cluster))
    room = max(6 * doubt, SAME * tone.frequency_hz)
    return abs(_middle(cluster) - tone.frequency_hz) < room


def _averaged(cluster: list[Tone]) -> Mode:
    """The weighted mean, with the larger of the fits' and the taps' own scatter.

    Weights 1/u^2; the scatter is the standard error of the weighted mean from the deviations
    of the taps (P. R. Bevington, D. K. Robinson, "Data Reduction and Error Analysis", 4.1).
    """
    weights = np.array([1.0 / max(tone.uncertainty_hz, 1e-12) ** 2 for tone in cluster])
    weights_sum = float(weights.sum())
    hz = np.array([tone.frequency_hz for tone in cluster])
    mean = float(weights @ hz) / weights_sum
    doubt = 1.0 / math.sqrt(weights_sum)
    if len(cluster) > 1:
        spread = float(weights @ (hz - mean) ** 2) / (len(cluster) - 1) / weights_sum
        doubt = max(doubt, math.sqrt(spread))
    damping = float(weights @ [tone.damping_ratio for tone in cluster]) / weights_sum
    return Mode(
        frequency_hz=mean,
        damping_ratio=damping,
        uncertainty_hz=doubt,
        snr_db=10 * math.log10(max(tone.snr for tone in cluster)),
        taps=len(cluster),
    )


def _with_channel(known: list[Mode], found: list[Mode]) -> list[Mode]:
    """Modes of another channel beside those known: of one mode the surer channel speaks.

    Two channels hear the same noise, so they are never averaged.
    """
    free, added = list(known), []
    for mode in found:
        near = [one for one in free if _near(one, mode)]
        if not near:
            added.append(mode)
            continue
        same = min(near, key=lambda one: abs(one.frequency_hz - mode.frequency_hz))
        free.remove(same)
        added.append(min(same, mode, key=lambda one: one.uncertainty_hz))
    return free + added


def _near(one: Mode, other: Mode) -> bool:
    doubt = math.hypot(one.uncertainty_hz, other.uncertainty_hz)
    room = max(6 * doubt, SAME * one.frequency_hz)
    return abs(one.frequency_hz - other.frequency_hz) < room


def _apart(tones: list[float]) -> tuple[float, ...]:
    """Steady tones, each once."""
    kept: list[float] = []
    for tone in tones:
        if not kept or tone - kept[-1] > max(0.5, SAME * tone):
            kept.append(tone)
    return tuple(kept)


def _clipped(samples: Floats) -> bool:
    """Whether the loudest samples stand in flat runs, as a recorder at its end leaves them.

    At full scale one run is enough. Under it (an amplifier before the recorder) several are
    needed: a quiet tone in whole numbers has flat tops too, but a ring has one loudest.
    """
    for peak in (float(samples.max()), float(samples.min())):
        flat = np.concatenate([[0], (samples == peak).astype(np.int8), [0]])
        turns = np.flatnonzero(np.diff(flat))
        runs = int(np.sum(turns[1::2] - turns[::2] >= FLAT))
        if abs(peak) > QUIET and runs >= (1 if abs(peak) >= FULL_SCALE else FLAT_RUNS):
            return True
    return False

"""Where in a recording the taps fall: each piece between them is one ring."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.fft import irfft, rfft

from ringwright.tap.decay import Floats

FRAME_S: Final = 0.002
AFTER_FRAMES: Final = 3
MEMORY_S: Final = 0.1
# Beating modes rise slowly and never above what they were; a tap rises at once and far above.
RISES: Final = 3.0
LEAST_S: Final = 0.02
CONTACT_S: Final = 0.001
SETTLES_FRAMES: Final = 8
HUM_ENDS_HZ: Final = 400.0
MOST_TAPS: Final = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Samples of one ring, from just after the tap to just before the next: [start, end)."""

    start: int
    end: int
    tapped: bool
    """Whether it begins with a tap, or the record begins in the middle of it."""


def find_stretches(samples: Floats, rate_hz: float) -> list[Stretch]:
    """The rings of one channel, in time order; a record without a tap is one stretch."""
    frame = max(8, int(FRAME_S * rate_hz))
    starts = _starts(samples, rate_hz, frame)
    least = max(64, int(LEAST_S * rate_hz))
    stretches = []
    taps = [(at * frame, _settled(samples, at, rate_hz), True) for at in starts]
    begins = [(0, 0, False), *taps]
    for n, (_, start, tapped) in enumerate(begins):
        end = begins[n + 1][0] - frame if n + 1 < len(begins) else len(samples)
        if end - start >= min(least, len(samples)):
            stretches.append(Stretch(start=start, end=end, tapped=tapped))
    return stretches[:MOST_TAPS] or [Stretch(start=0, end=len(samples), tapped=False)]


def _settled(samples: Floats, at: int, rate_hz: float) -> int:
    """The first sample after the hammer has left: past the loudest of the first moments."""
    frame = max(8, int(FRAME_S * rate_hz))
    first = max(0, (at - 1) * frame)
    # What lies above the hum is heard a few frames early: its filter rings before the tap too.
    near = np.abs(samples[first : first + SETTLES_FRAMES * frame])
    return min(
        first + int(np.argmax(near)) + int(CONTACT_S * rate_hz),
        len(samples) - 1,
    )


def _starts(samples: Floats, rate_hz: float, frame: int) -> list[int]:
    """Frames at which a tap falls; heard in all of the sound or in what lies above the hum."""
    whole = samples - np.mean(samples)
    tones = rfft(whole)
    tones[: int(HUM_ENDS_HZ * len(whole) / rate_hz) + 1] = 0.0
    above = irfft(tones, len(whole))
    found: list[int] = []
    for at in sorted({*_rises(whole, rate_hz, frame), *_rises(above, rate_hz, frame)}):
        if not found or at - found[-1] > 2 * AFTER_FRAMES:
            found.append(at)
    return found


def _rises(samples: Floats, rate_hz: float, frame: int) -> list[int]:
    frames = len(samples) // frame
    memory = int(MEMORY_S * rate_hz / frame)
    if frames < 2 * AFTER_FRAMES:
        return []
    energy = np.mean(samples[: frames * frame].reshape(frames, frame) ** 2, axis=1)
    after = np.convolve(energy, np.full(AFTER_FRAMES, 1 / AFTER_FRAMES), "valid")
    padded = np.concatenate([np.zeros(memory), energy])
    before = np.lib.stride_tricks.sliding_window_view(padded, memory).max(axis=1)
    ratio = after[1:] / (before[1 : len(after)] + 1e-300)
    hits = np.flatnonzero((ratio > RISES) & (after[1:] > 1e-12 * np.max(after))) + 1
    # Of a run of frames that all see the same tap the one that holds its first sound counts.
    firsts = [int(at) for n, at in enumerate(hits) if n == 0 or at - hits[n - 1] > 1]
    return [_exact(energy, at) for at in firsts]


def _exact(energy: Floats, at: int) -> int:
    window = energy[at : at + AFTER_FRAMES]
    return at + int(np.argmax(window > 0.3 * np.max(window)))

"""A recording of taps, read from WAV or from a table of time and amplitude."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import soundfile

from ringwright.core.errors import Refused

LEAST_RATE_HZ: Final = 1_000
MOST_RATE_HZ: Final = 400_000
LEAST_SAMPLES: Final = 64
MOST_S: Final = 60.0
MOST_CHANNELS: Final = 8
MOST_BYTES: Final = 50_000_000
# Times written with few decimals jitter by half a step or so; a lost sample is a whole one.
UNEVEN: Final = 0.7
HEADER: Final = ["time_s", "amplitude"]
KINDS: Final = {"PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "PCM_U8"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """What the microphone heard: samples of shape (channels, samples), full scale is 1."""

    samples: npt.NDArray[np.float64]
    sample_rate_hz: float

    @property
    def seconds(self) -> float:
        """The length of the record."""
        return float(self.samples.shape[1] / self.sample_rate_hz)


def read_recording(data: bytes, name: str) -> Recording:
    """Read a WAV or a CSV by what it holds, never by its name; raises Refused in one line."""
    if not data:
        raise Refused(f"{name} is empty")
    if len(data) > MOST_BYTES:
        raise Refused(f"{name} holds over {MOST_BYTES // 1_000_000} MB; record a few taps only")
    wave = data[:4] in {b"RIFF", b"RIFX", b"RF64"}
    recording = _wav(data, name) if wave else _table(data, name)
    _check(recording, name)
    return recording


def _wav(data: bytes, name: str) -> Recording:
    try:
        with soundfile.SoundFile(io.BytesIO(data)) as file:
            if file.subtype not in KINDS:
                raise Refused(f"{name} is {file.subtype}; record plain PCM or float WAV")
            if file.channels > MOST_CHANNELS:
                raise Refused(f"{name} has {file.channels} channels; {MOST_CHANNELS} at most")
            if file.frames > MOST_S * file.samplerate:
                raise Refused(f"{name} is over {MOST_S:.0f} s long; record a few taps only")
            samples = file.read(dtype="float64", always_2d=True)
            rate = float(file.samplerate)
    except (soundfile.LibsndfileError, RuntimeError, ValueError, MemoryError):
        raise Refused(f"{name} is no WAV that can be read; record it again") from None
    return Recording(samples=np.ascontiguousarray(samples.T), sample_rate_hz=rate)


def _table(data: bytes, name: str) -> Recording:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refused(f"{name} is neither a WAV nor UTF-8 text") from None
    if "\0" in text:
        raise Refused(f"{name} is neither a WAV nor a table of {','.join(HEADER)}")
    try:
        rows = [row for row in csv.reader(io.StringIO(text)) if row]
    except csv.Error:
        raise Refused(f"{name} is no table of {','.join(HEADER)}") from None
    if not rows or [cell.strip() for cell in rows[0]] != HEADER:
        raise Refused(f"{name} must begin with the line {','.join(HEADER)}")
    pairs = np.array([_pair(row, at, name) for at, row in enumerate(rows[1:], 2)]).reshape(
        -1, 2
    )
    return Recording(samples=pairs[:, 1].reshape(1, -1), sample_rate_hz=_rate(pairs, name))


def _pair(row: list[str], line: int, name: str) -> tuple[float, float]:
    try:
        time_s, amplitude = (float(cell) for cell in row)
    except ValueError:
        raise Refused(
            f"{name} line {line}: two numbers are needed, time and amplitude"
        ) from None
    if not (math.isfinite(time_s) and math.isfinite(amplitude)):
        raise Refused(f"{name} line {line}: time and amplitude must be finite numbers")
    return time_s, amplitude


def _rate(pairs: npt.NDArray[np.float64], name: str) -> float:
    """The rate of evenly spaced times; raises Refused where they are not.

    The times may be rounded, so each is held against the even clock through all of them.
    """
    times_s = pairs[:, 0]
    if len(times_s) < LEAST_SAMPLES:
        raise Refused(f"{name} has {len(times_s)} samples; {LEAST_SAMPLES} are the least")
    falls = np.flatnonzero(np.diff(times_s) <= 0)
    if len(falls):
        raise Refused(f"{name} line {falls[0] + 3}: the time does not rise")
    # The line through all times: rounding of the ends alone would shift every frequency.
    places = np.arange(len(times_s)) - (len(times_s) - 1) / 2
    step_s = float(places @ times_s / (places @ places))
    if not (math.isfinite(step_s) and step_s > 0):
        raise Refused(f"{name} has times that no clock gives")
    gaps = np.abs(np.diff(times_s) / step_s - 1.0)
    off = np.abs(times_s - np.mean(times_s) - step_s * places) / step_s
    for uneven in (gaps, off):
        if np.max(uneven) > UNEVEN:
            raise Refused(
                f"{name} line {int(np.argmax(uneven)) + 3}: the time steps are uneven"
            )
    return 1.0 / step_s


def _check(recording: Recording, name: str) -> None:
    count, rate = recording.samples.shape[1], recording.sample_rate_hz
    if not LEAST_RATE_HZ <= rate <= MOST_RATE_HZ:
        raise Refused(f"{name} has {rate:g} samples a second; {LEAST_RATE_HZ} are the least")
    if count < LEAST_SAMPLES:
        raise Refused(f"{name} has {count} samples; {LEAST_SAMPLES} are the least")
    if recording.seconds > MOST_S:
        raise Refused(f"{name} is over {MOST_S:.0f} s long; record a few taps only")
    if not np.isfinite(recording.samples).all():
        raise Refused(f"{name} holds samples that are no numbers; record it again")

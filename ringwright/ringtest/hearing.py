"""What a recording says of the modes that a step asks for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.core.errors import Refused
from ringwright.kit.charts import Scale
from ringwright.routecards.card import Characteristic
from ringwright.tap.answer import Answer, Mode, analyse
from ringwright.tap.decay import Floats
from ringwright.tap.recording import Recording, read_recording

COLUMNS = 360
"""Columns of a picture: what a screen can tell apart."""
TOP, FLOOR = 8.0, 150.0
LEAST_DB = -80.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """One mode that the step asks for, with what was heard in its window."""

    characteristic: Characteristic
    heard: tuple[Mode, ...]

    @property
    def mode(self) -> Mode | None:
        """The one that was heard; None for none, or for several."""
        return self.heard[0] if len(self.heard) == 1 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """A mark on the spectrum."""

    x: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """Waveform and spectrum, as points in pictures 100 wide."""

    wave: str
    spectrum: str
    peaks: tuple[Peak, ...]
    highest_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """A whole recording: its answer, the modes by name, the peaks without one."""

    recording: Recording
    answer: Answer
    named: tuple[Named, ...]
    unnamed: tuple[Mode, ...]


def hear(data: bytes, name: str, wanted: Sequence[Characteristic]) -> Heard:
    """Analyse a recording; raises Refused for one that is none, or holds no ring."""
    recording = read_recording(data, name)
    answer = analyse(recording)
    if not answer.modes:
        raise Refused(
            "no ring is heard in the recording: it is silent, or nothing in it dies away as a "
            "tapped part does. Tap again, nearer to the microphone"
        )
    named = tuple(
        Named(
            characteristic=one,
            heard=tuple(mode for mode in answer.modes if _within(mode, one)),
        )
        for one in wanted
    )
    taken = {id(mode) for one in named for mode in one.heard}
    return Heard(
        recording=recording,
        answer=answer,
        named=named,
        unnamed=tuple(mode for mode in answer.modes if id(mode) not in taken),
    )


def _within(mode: Mode, one: Characteristic) -> bool:
    return one.search is not None and one.search[0] <= mode.frequency_hz <= one.search[1]


def draw(heard: Heard) -> Pictures:
    """The pictures of a recording."""
    samples = heard.recording.samples[0]
    rate_hz = heard.recording.sample_rate_hz
    highest_hz = _highest(heard)
    bins = np.fft.rfft(samples * np.hanning(len(samples)))
    power = np.abs(bins)
    hz = np.fft.rfftfreq(len(samples), 1 / rate_hz)
    shown = power[hz <= highest_hz]
    db = 20 * np.log10(np.maximum(_largest(shown), 1e-300) / max(float(power.max()), 1e-300))
    down = Scale(LEAST_DB, 0.0, FLOOR, TOP)
    across = Scale(0.0, highest_hz, 0.0, 100.0)
    spectrum = [
        f"{round(100 * n / max(1, len(db) - 1), 2)},{down(max(float(level), LEAST_DB))}"
        for n, level in enumerate(db)
    ]
    peaks = tuple(
        Peak(x=across(one.mode.frequency_hz), text=one.characteristic.mode)
        for one in heard.named
        if one.mode is not None
    )
    return Pictures(
        wave=_wave(samples), spectrum=" ".join(spectrum), peaks=peaks, highest_hz=highest_hz
    )


def _highest(heard: Heard) -> float:
    """A little above the highest window; without one, above the highest mode."""
    ends = [one.characteristic.search[1] for one in heard.named if one.characteristic.search]
    top = max([*ends, *(mode.frequency_hz for mode in heard.answer.modes)])
    return min(1.3 * top, heard.recording.sample_rate_hz / 2)


def _largest(values: Floats) -> Floats:
    """The largest of each column, so that no peak is lost between them."""
    if len(values) <= COLUMNS:
        return values
    edges = np.linspace(0, len(values), COLUMNS + 1).astype(int)
    return np.maximum.reduceat(values, edges[:-1])


def _wave(samples: Floats) -> str:
    """The outline of the samples: the largest of each column, then the smallest, back."""
    count = min(COLUMNS, len(samples))
    edges = np.linspace(0, len(samples), count + 1).astype(int)[:-1]
    high = np.maximum.reduceat(samples, edges)
    low = np.minimum.reduceat(samples, edges)
    peak = float(np.abs(samples).max()) or 1.0
    down = Scale(-peak, peak, FLOOR, TOP)
    along = [round(100 * n / max(1, count - 1), 2) for n in range(count)]
    upper = [f"{x},{down(float(y))}" for x, y in zip(along, high, strict=True)]
    lower = [f"{x},{down(float(y))}" for x, y in zip(along, low, strict=True)]
    return " ".join([*upper, *reversed(lower)])

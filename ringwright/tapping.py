"""`ringwright tap`: what a recording of taps says. Loads neither web nor SQL."""

from __future__ import annotations

import argparse
import json
import math
from pathlib import Path

from ringwright.core.errors import Missing, Refused
from ringwright.tap.answer import Answer, Mode, analyse, as_json
from ringwright.tap.recording import MOST_BYTES, read_recording


def tap(arguments: argparse.Namespace) -> tuple[str, list[str]]:
    """The answer as text, and what is to be said beside it; raises Refused or Missing."""
    path = Path(arguments.file)
    try:
        if path.stat().st_size > MOST_BYTES:
            raise Refused(f"{path.name} holds over {MOST_BYTES // 1_000_000} MB")
        data = path.read_bytes()
    except (OSError, ValueError) as trouble:
        why = getattr(trouble, "strerror", None) or "cannot be read"
        raise Missing(f"{arguments.file}: {why}") from None
    answer = analyse(read_recording(data, path.name))
    if arguments.json:
        return json.dumps(as_json(answer)), warnings(answer)
    return "\n".join(_told(answer)), warnings(answer)


def warnings(answer: Answer) -> list[str]:
    """What whoever recorded should know before trusting the answer."""
    told = []
    if answer.clipped:
        told.append("Clipped: the loudest samples are cut off. Tap softer or turn down.")
    if answer.steady_hz:
        tones = ", ".join(f"{hz:.1f}" for hz in answer.steady_hz)
        name = "Hum of the mains or another steady tone" if answer.hum else "Steady tone"
        told.append(f"{name} at {tones} Hz, left out: it does not decay.")
    return told


def shown_hz(mode: Mode) -> tuple[str, str]:
    """Frequency and uncertainty with no digit below its second (JCGM 100:2008, 7.2.6)."""
    digits = 1 - math.floor(math.log10(max(mode.uncertainty_hz, 1e-9)))
    places = max(0, digits)
    return (
        f"{round(mode.frequency_hz, digits):.{places}f}",
        f"{round(mode.uncertainty_hz, digits):.{places}f}",
    )


def _told(answer: Answer) -> list[str]:
    """The answer for a person at a terminal."""
    length = f"{answer.seconds:.3g} s at {answer.sample_rate_hz:g} samples a second"
    if not answer.modes:
        return [f"No ring in {length}."]
    rows = [f"{len(answer.modes)} modes, {answer.taps} taps, {length}"]
    rows.append(f"{'Hz':>14} {'± Hz':>10} {'damping ratio':>14} {'over noise dB':>14}")
    for mode in answer.modes:
        hz, doubt = shown_hz(mode)
        rows.append(f"{hz:>14} {doubt:>10} {mode.damping_ratio:>14.6f} {mode.snr_db:>14.1f}")
    return [*rows, "± is one standard deviation."]

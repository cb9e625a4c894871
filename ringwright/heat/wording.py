"""How a judgement speaks: times as the file spells them, bands, figures without padding."""

from __future__ import annotations

import numpy as np

from ringwright.heat.channels import Bools, Working
from ringwright.heat.reading import spelled_time
from ringwright.heat.recipe import Segment
from ringwright.heat.trace import SECONDS, Floats, Trace


def when(trace: Trace, place: int) -> str:
    """At which time, for a sentence."""
    return spelled_time(trace, place) + (" s" if trace.clock == SECONDS else "")


def figure(value: float) -> str:
    """A reading as a person writes it: six digits at most, no zeros behind."""
    return f"{value:.6g}"


def minutes(seconds: float) -> str:
    """A length of time in minutes, to a tenth where it is not whole."""
    return f"{round(seconds / 60.0, 1):g} min"


def band_c(segment: Segment) -> str:
    """The band of a segment's temperature."""
    return f"{segment.target_c:g} ± {segment.tolerance_c:g} °C"


def band_kpa(segment: Segment) -> str:
    """The band of a segment's pressure."""
    return f"{segment.pressure_kpa or 0.0:g} ± {segment.pressure_tolerance_kpa or 0.0:g} kPa"


def worst(work: Working, away: Floats) -> tuple[str, float, int]:
    """(thermocouple, how far, sample) where `away` (k, n) is largest; not all are blank."""
    channel, place = np.unravel_index(int(np.nanargmax(away)), away.shape)
    return work.names[channel], float(away[channel, place]), int(place)


def first_of(true: Bools, begin: int, end: int) -> int | None:
    """The first sample of [begin, end) where something is so, or None."""
    found = np.flatnonzero(true[begin:end])
    return begin + int(found[0]) if found.size else None


def last_of(true: Bools, begin: int, end: int) -> int | None:
    """The last sample of [begin, end) where something is so, or None."""
    found = np.flatnonzero(true[begin:end])
    return begin + int(found[-1]) if found.size else None

"""Starts still expected: parts not created yet that may come and leave within the time."""

from __future__ import annotations

import itertools
import math
from typing import Final

import numpy as np

from ringwright.outlook.passage import Passages, read_bins
from ringwright.outlook.record import Floats, Ints, Record
from ringwright.outlook.worked import Worked

BLOCKS: Final = 8
"""So many past weeks of starts are looked at, each as likely to come again."""
Span = tuple[float, float]
"""Working hours from now until the week begins (0 once it has) and until it ends."""


def expected_starts(
    record: Record, worked: Worked, way: Passages, back_us: list[int], span_h: Span
) -> list[Floats]:
    """For each of the past weeks, chances (draws, starts) of its starts, did they come again.

    `back_us` is the moment and the same clock time of the weeks before it, newest first. A
    start counts as often as a week of the time ahead would hold it.
    """
    created = np.flatnonzero((record.step < 0) & (record.goes_to >= 0))
    created_us, step = record.begin_us[created], record.goes_to[created]
    found: list[Floats] = []
    for now_us, before_us in itertools.pairwise(back_us[: BLOCKS + 1]):
        if found and before_us < record.first_us:
            break
        inside = (created_us >= before_us) & (created_us < now_us)
        week_h = float(worked.hours(now_us) - worked.hours(before_us))
        after_h = worked.hours(created_us[inside]) - worked.hours(before_us)
        weeks = math.ceil(span_h[1] / week_h) if week_h > 0 else 0
        after_h = (after_h + week_h * np.arange(weeks)[:, None]).ravel()
        found.append(_within(way, np.tile(step[inside], weeks), after_h, span_h))
    return found


def _within(way: Passages, step: Ints, after_h: Floats, span_h: Span) -> Floats:
    """Chances of starts, so many hours from now, to be out within the span and not before."""
    early, late = (_out(way, step, edge_h - after_h) for edge_h in span_h)
    coming = after_h < span_h[1]
    return np.maximum(late - early, 0.0)[:, coming]


def _out(way: Passages, step: Ints, left_h: Floats) -> Floats:
    below, part, any_left = read_bins(left_h / way.bin_h)
    curves = way.fresh[:, step]
    one = np.arange(len(step))
    read = curves[:, one, below] * (1.0 - part) + curves[:, one, below + 1] * part
    return np.where(any_left, read, 0.0)

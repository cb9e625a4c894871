"""Where the segments lie that a cycle has not come to: still to come, or missed. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from ringwright.heat.recipe import SOAK, Segment
from ringwright.heatruns.breaks import Laid

GUESSED_MIN: Final = 30.0
"""How long a segment is drawn that says no time of its own."""
ROOM_C: Final = 20.0


def laid_ahead(laid: Sequence[Laid], started_s: float, now_s: float) -> list[Laid]:
    """The segments that have not begun, each in the least time it asks, from now on.

    What a soak under way still asks is one piece more; its `minutes` are those that are left.
    """
    begun = [place for place, one in enumerate(laid) if one.span is not None]
    last = begun[-1] if begun else -1
    found: list[Laid] = []
    level_c = laid[last].segment.target_c if begun else ROOM_C
    at_s = max(now_s, started_s) if begun else started_s
    if begun:
        left_s = _left_s(laid[last], level_c)
        if left_s > 0:
            one = laid[last]
            found.append(
                Laid(
                    segment=one.segment,
                    from_s=at_s,
                    to_s=at_s + left_s,
                    minutes=left_s / 60.0,
                )
            )
            at_s += left_s
    for one in laid[last + 1 :]:
        end_s = at_s + _least_min(one.segment, level_c) * 60.0
        found.append(Laid(segment=one.segment, from_s=at_s, to_s=end_s))
        at_s, level_c = end_s, one.segment.target_c
    return found


def _left_s(one: Laid, level_c: float) -> float:
    """What a segment under way still asks; a ramp is over when the next one begins."""
    if one.segment.kind != SOAK:
        return 0.0
    return (_least_min(one.segment, level_c) - (one.minutes or 0.0)) * 60.0


def _least_min(segment: Segment, level_c: float) -> float:
    """The least time a segment asks: its own, or the way at its largest slope, or a guess."""
    if segment.min_minutes is not None:
        return segment.min_minutes
    slope = segment.max_rate_c_per_min
    if segment.kind != SOAK and slope:
        return max(abs(segment.target_c - level_c) / slope, 1.0)
    return GUESSED_MIN


def laid_unreached(laid: Sequence[Laid], begins_s: float, ends_s: float) -> list[Laid]:
    """The segments that a cycle which is over never came to, where they should have lain.

    That is between the segments before and after them that it did come to, evenly; where
    these leave no room, over the one before. A soak among them has no minute in band.
    """
    found: list[Laid] = []
    missed: list[Laid] = []
    since_s = before_s = begins_s
    for one in (*laid, None):
        if one is not None and one.span is None:
            missed.append(one)
            continue
        until_s = ends_s if one is None or one.span is None else one.span[0]
        since_s = since_s if until_s > since_s else before_s
        step_s = max(until_s - since_s, 0.0) / max(len(missed), 1)
        found += [
            Laid(
                segment=each.segment,
                from_s=since_s + place * step_s,
                to_s=since_s + (place + 1) * step_s,
                minutes=0.0,
                met=False,
            )
            for place, each in enumerate(missed)
            if step_s > 0
        ]
        missed = []
        if one is not None and one.span is not None:
            before_s, since_s = one.span
    return found

"""A furnace run judged against its recipe: what each segment did, and whether it was met.

As somebody would with the chart, a ruler and a pencil:

1. Thermocouples that failed are named and left out (`channels.py`); the rest decide.
2. The recipe is laid along the trace, so that each reading belongs to the target it lies
   nearest to, in the recipe's order (`laying.py`); by it and the pressure (`holds.py`) each
   segment gets its first and last sample (`spans.py`).
3. Within them the clock is read (`soaks.py`), rates are drawn (`rates.py`), and everything that
   is not as the recipe says is put into a sentence (`faults.py`).

What concerns the whole run (the ceiling, two readings at one time, readings that cannot be, too
few thermocouples) is said of the segments it happened in, so that no run fails without one. Of
a soak `minutes` is the time in band, of a ramp the time from its first to its last sample; the
longest time allowed is held against the latter in both.

`why` holds every reason, parted by semicolons. It is empty where the segment is met and nothing
need be said; where the record has a gap, it says so although the segment is met.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from ringwright.heat.channels import Bools, Working, working
from ringwright.heat.faults import Case, faults, lacking, notes, over_ceiling, steepest
from ringwright.heat.plausible import implausible
from ringwright.heat.reading import spelled_time
from ringwright.heat.recipe import SOAK, Recipe
from ringwright.heat.soaks import Clock, clock
from ringwright.heat.spans import Span, spans_of
from ringwright.heat.trace import SECONDS, Floats, Trace

MET: Final = "met"
NOT_MET: Final = "not met"
DIGITS: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One segment of a run: what it did and what is wrong with it."""

    name: str
    kind: str
    start: str | float | None = None
    """Its first sample's time in the file's own form; None where it never began."""
    minutes: float = 0.0
    min_c: float | None = None
    max_c: float | None = None
    spread_c: float | None = None
    """The largest difference between working thermocouples at one time."""
    out_of_band_minutes: float = 0.0
    rate_c_per_min: float | None = None
    """Size of the steepest slope of any working thermocouple, over five minutes."""
    first: int | None = None
    last: int | None = None
    """Its first and last sample in the trace."""
    start_s: float | None = None
    end_s: float | None = None
    """The times of those [s, by the trace's clock]."""
    faults: tuple[str, ...] = ()
    """What no further reading can mend."""
    lacking: tuple[str, ...] = ()
    """What is not there: of a run under way, not yet."""
    notes: tuple[str, ...] = ()
    """What is to be known although it decides nothing."""

    @property
    def met(self) -> bool:
        """True where it did all that the recipe says."""
        return not self.faults and not self.lacking

    @property
    def why(self) -> str:
        """Everything to be said of it in one sentence; empty where there is nothing."""
        return "; ".join((*self.faults, *self.lacking, *self.notes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """A run as its recipe judges it. Whether it is accepted, a person signs."""

    segments: tuple[Judged, ...]
    channels_failed: tuple[str, ...]
    reasons: tuple[str, ...] = ()
    """What concerns the whole run; each stands with the segments it happened in too."""
    under_way: int | None = None
    """The segment that the record ends in, counted from 0: where a run is that goes on."""

    @property
    def met(self) -> bool:
        """True where every segment is met and nothing is wrong with the whole."""
        return not self.reasons and all(one.met for one in self.segments)

    @property
    def verdict(self) -> str:
        """`met` or `not met`."""
        return MET if self.met else NOT_MET


def judge(trace: Trace, recipe: Recipe) -> Judgement:
    """Judge a trace of any length, of a run that is over or goes on.

    Of one that goes on, `under_way` tells the segment it is in, that segment's `minutes` the
    time so far, and `faults` what is wrong already; what is `lacking` may still come.
    """
    work = working(trace)
    if not work.size or not work.names:
        return _unknown(work, recipe)
    spans = spans_of(work, recipe)
    whole = _whole(trace, work, recipe)
    said = [_segments_of(where, spans) for where, _ in whole]
    judged = []
    for place, span in enumerate(spans):
        told = [one for (_, one), places in zip(whole, said, strict=True) if place in places]
        judged.append(_judged(_case(trace, work, recipe, place, span), told))
    return Judgement(
        segments=tuple(judged),
        channels_failed=work.failed,
        reasons=tuple(sentence for _, sentence in whole),
        under_way=_under_way(spans),
    )


def as_json(judgement: Judgement) -> dict[str, Any]:
    """The answer of `ringwright furnace --json`."""
    return {
        "verdict": judgement.verdict,
        "segments": [
            {
                "name": one.name,
                "start": one.start,
                "minutes": _plain(one.minutes),
                "min_c": _plain(one.min_c),
                "max_c": _plain(one.max_c),
                "spread_c": _plain(one.spread_c),
                "out_of_band_minutes": _plain(one.out_of_band_minutes),
                "met": one.met,
                "why": one.why,
            }
            for one in judgement.segments
        ],
        "channels_failed": list(judgement.channels_failed),
    }


def _plain(value: float | None) -> float | None:
    return None if value is None else round(float(value), DIGITS)


def _unknown(work: Working, recipe: Recipe) -> Judgement:
    """Where nothing works or nothing was read, nothing is known of any segment."""
    why = "no thermocouple works" if work.size else "there are no readings"
    return Judgement(
        segments=tuple(
            Judged(name=one.name, kind=one.kind, lacking=(why,)) for one in recipe.segments
        ),
        channels_failed=work.failed if work.size else (),
        reasons=(why,),
    )


def _case(trace: Trace, work: Working, recipe: Recipe, place: int, span: Span) -> Case:
    segments = recipe.segments
    return Case(
        trace=trace,
        work=work,
        recipe=recipe,
        segment=segments[place],
        span=span,
        clock=_clock(work, recipe, place, span),
        following=segments[place + 1] if place + 1 < len(segments) else None,
        rate=steepest(work, span),
    )


def _clock(work: Working, recipe: Recipe, place: int, span: Span) -> Clock | None:
    """The clock of a segment; on the way to a temperature no reading is out of band."""
    if span.first is None or span.last is None:
        return None
    one = recipe.segments[place]
    if one.kind == SOAK or (place and recipe.segments[place - 1].target_c == one.target_c):
        inside = work.inside(one.target_c, one.tolerance_c)
        outside = work.outside(one.target_c, one.tolerance_c)
    else:
        inside, outside = np.ones(work.size, dtype=bool), np.zeros(work.size, dtype=bool)
    return clock(work, inside, outside, span.first, span.last)


def _judged(case: Case, told: Sequence[str]) -> Judged:
    """One segment, with what concerns the whole run and happened in it."""
    segment, span, time = case.segment, case.span, case.clock
    known = Judged(
        name=segment.name,
        kind=segment.kind,
        rate_c_per_min=case.rate[0] if case.rate is not None else None,
        faults=tuple(dict.fromkeys([*told, *faults(case)])),
        lacking=tuple(lacking(case)),
        notes=tuple(notes(case)),
    )
    if span.first is None or span.last is None or time is None:
        return known
    part = slice(span.first, span.last + 1)
    low, high = case.work.coldest_c[part], case.work.hottest_c[part]
    return replace(
        known,
        start=_start(case.trace, span.first),
        minutes=(time.in_s if segment.kind == SOAK else case.elapsed_s) / 60.0,
        min_c=_least(low),
        max_c=_most(high),
        spread_c=_most(high - low),
        out_of_band_minutes=time.out_s / 60.0,
        first=span.first,
        last=span.last,
        start_s=float(case.work.at_s[span.first]),
        end_s=float(case.work.at_s[span.last]),
    )


def _least(values: Floats) -> float | None:
    return None if np.isnan(values).all() else float(np.nanmin(values))


def _most(values: Floats) -> float | None:
    return None if np.isnan(values).all() else float(np.nanmax(values))


def _start(trace: Trace, place: int) -> str | float:
    """A time as the file has it: text where it tells the time, a figure where it counts."""
    if trace.clock != SECONDS:
        return spelled_time(trace, place)
    seconds = float(trace.at_s[place])
    return int(seconds) if seconds.is_integer() else seconds


def _whole(trace: Trace, work: Working, recipe: Recipe) -> list[tuple[Bools, str]]:
    """(samples (n,) at which, sentence) of what concerns the whole run."""
    found = []
    if len(work.names) < recipe.min_channels:
        told = f"{len(work.names)} of {recipe.min_channels} thermocouples needed work"
        found.append((np.ones(work.size, dtype=bool), told))
    if recipe.ceiling_c is not None:
        over = over_ceiling(trace, work, recipe.ceiling_c)
        found += [over] if over is not None else []
    if trace.clashes:
        clashing = set(trace.clashes)
        where = np.array([spelled_time(trace, n) in clashing for n in range(trace.size)])
        more = f" and {len(clashing) - 1} other times" if len(clashing) > 1 else ""
        found.append((where, f"two different readings at {trace.clashes[0]}{more}"))
    return [*found, *implausible(trace, work, recipe)]


def _segments_of(where: Bools, spans: Sequence[Span]) -> set[int]:
    """The segments that some of these samples fall into, else the one begun before them."""
    if where.all():
        return set(range(len(spans)))
    found = {
        place
        for place, span in enumerate(spans)
        if span.first is not None
        and span.last is not None
        and where[span.first : span.last + 1].any()
    }
    if found:
        return found
    at = int(np.argmax(where))
    return {
        max(
            (n for n, one in enumerate(spans) if one.first is not None and one.first <= at),
            default=0,
        )
    }


def _under_way(spans: Sequence[Span]) -> int | None:
    return max((n for n, one in enumerate(spans) if one.first is not None), default=None)

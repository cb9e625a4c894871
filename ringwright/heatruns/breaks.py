"""Where a trace left what its recipe allows, and where it is silent.

The judgement says whether a segment is met; this says where to look. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ringwright.heat.channels import ROUNDING, Bools, Working
from ringwright.heat.judge import Judgement
from ringwright.heat.recipe import RAMP, SOAK, Recipe, Segment
from ringwright.heat.trace import Floats

ABOVE, BELOW, CEILING = "above", "below", "ceiling"
PRESSURE: Final = "pressure_kpa"
APART_S: Final = 60.0
"""Two breaks of one channel that lie closer are told as one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """One segment of the recipe as it lay in the trace."""

    segment: Segment
    from_s: float | None = None
    """When it began [s since 1970 UTC]; None where it did not."""
    to_s: float | None = None
    minutes: float | None = None
    """In band; of a ramp, what it took."""
    met: bool | None = None
    """None while it is not decided."""

    @property
    def span(self) -> tuple[float, float] | None:
        """When it began and ended; None where it never began."""
        if self.from_s is None or self.to_s is None:
            return None
        return self.from_s, self.to_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch without readings."""

    from_s: float
    to_s: float

    @property
    def minutes(self) -> float:
        """How long the recorder was silent."""
        return (self.to_s - self.from_s) / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A limit that one channel broke, at its worst."""

    channel: str
    segment: str
    """Its name; empty for the ceiling, which holds at any time."""
    way: str
    """Above, below, or over the ceiling."""
    at_s: float
    value: float
    limit: float
    minutes: float
    allowed: bool = False
    """True for a dip out of a soak's band that is no longer than the recipe allows."""

    @property
    def by(self) -> float:
        """How far beyond the limit."""
        return abs(self.value - self.limit)


def gaps_of(work: Working) -> tuple[Gap, ...]:
    """Every interval over three times the median, in time."""
    places = np.flatnonzero(work.gap).tolist()
    at_s = work.at_s
    return tuple(
        Gap(from_s=float(at_s[place]), to_s=float(at_s[place + 1])) for place in places
    )


def breaks_of(
    work: Working, laid: Sequence[Laid], recipe: Recipe, *, goes_on: bool = False
) -> tuple[Break, ...]:
    """Every limit that a working thermocouple or the pressure broke, in time.

    A soak's lower edge holds from its start to its end, its upper edge on heating from the
    first thermocouple that came into the band. Gaps and blanks break nothing, nor does the
    pressure of a ramp that has not come to its end, in a run that goes on.
    """
    found: list[Break] = []
    begun = [one for one in laid if one.span is not None]
    for place, one in enumerate(begun):
        if one.segment.kind == SOAK:
            own = one.segment.max_dip_minutes
            dip_min = recipe.max_dip_minutes if own is None else own
            found += _of_soak(work, one, begun[:place], dip_min)
        on_its_way = goes_on and one is begun[-1] and one.segment.kind == RAMP
        found += () if on_its_way else _of_pressure(work, one)
    if recipe.ceiling_c is not None:
        over = work.read_c > recipe.ceiling_c + ROUNDING
        found += _each(work, over, (CEILING, "", recipe.ceiling_c))
    return tuple(sorted(found, key=lambda one: (one.at_s, one.channel)))


def _of_soak(
    work: Working, soak: Laid, earlier: Sequence[Laid], dip_min: float
) -> Iterator[Break]:
    segment, span = soak.segment, soak.span
    assert span is not None
    low = segment.target_c - segment.tolerance_c
    high = segment.target_c + segment.tolerance_c
    within = _between(work, *span)
    under = (work.read_c < low - ROUNDING) & within
    yield from _dips(_each(work, under, (BELOW, segment.name, low)), dip_min)
    others = [one for one in earlier if one.segment.target_c != segment.target_c]
    warming = not others or others[-1].segment.target_c < segment.target_c
    since = _entered(work, (low, high), earlier, span[0]) if warming else span[0]
    over = (work.read_c > high + ROUNDING) & _between(work, since, span[1])
    found = _each(work, over, (ABOVE, segment.name, high))
    # Down from a hotter target, what is above the band is a dip as any other.
    yield from found if warming else _dips(found, dip_min)


def _dips(found: Iterator[Break], dip_min: float) -> Iterator[Break]:
    for one in found:
        yield replace(one, allowed=one.minutes <= dip_min)


def _entered(
    work: Working, band: tuple[float, float], earlier: Sequence[Laid], begins_s: float
) -> float:
    """When the first thermocouple came into the band, after any soak before it."""
    inside = (work.read_c >= band[0] - ROUNDING) & (work.read_c <= band[1] + ROUNDING)
    soaked = [one.to_s for one in earlier if one.segment.kind == SOAK and one.to_s]
    since = max(soaked, default=-np.inf)
    some = inside.any(axis=0) & (work.at_s >= since)
    first = np.flatnonzero(some)
    return min(begins_s, float(work.at_s[first[0]])) if first.size else begins_s


def _of_pressure(work: Working, one: Laid) -> Iterator[Break]:
    segment, pressure, span = one.segment, work.pressure_kpa, one.span
    if pressure is None or segment.pressure_kpa is None or span is None:
        return
    reach = segment.pressure_tolerance_kpa or 0.0
    low, high = segment.pressure_kpa - reach, segment.pressure_kpa + reach
    # A ramp's pressure is where it ends.
    within = _between(work, span[0] if segment.kind == SOAK else span[1], span[1])
    for way, limit, out in (
        (BELOW, low, pressure < low - ROUNDING),
        (ABOVE, high, pressure > high + ROUNDING),
    ):
        told = (PRESSURE, way, segment.name, limit)
        yield from _runs(work, pressure, out & within, told)


def _between(work: Working, from_s: float, to_s: float) -> Bools:
    found: Bools = (work.at_s >= from_s) & (work.at_s <= to_s)
    return found


def _each(work: Working, out: Bools, told: tuple[str, str, float]) -> Iterator[Break]:
    way, segment, limit = told
    for place in np.flatnonzero(out.any(axis=1)).tolist():
        named = (work.names[place], way, segment, limit)
        yield from _runs(work, work.read_c[place], out[place], named)


def _runs(
    work: Working, values: Floats, out: Bools, told: tuple[str, str, str, float]
) -> Iterator[Break]:
    """Each stretch beyond a limit, close ones as one, at its worst."""
    channel, way, segment, limit = told
    places = np.flatnonzero(out)
    if not places.size:
        return
    apart = np.flatnonzero(np.diff(work.at_s[places]) > max(APART_S, 2 * work.step_s)) + 1
    for run in np.split(places, apart):
        beyond = np.abs(values[run] - limit)
        worst = int(run[int(np.argmax(beyond))])
        lasted_s = float(work.at_s[run[-1]] - work.at_s[run[0]]) + work.step_s
        yield Break(
            channel=channel,
            segment=segment,
            way=way,
            at_s=float(work.at_s[worst]),
            value=float(values[worst]),
            limit=limit,
            minutes=lasted_s / 60.0,
        )


def laid_of(judgement: Judgement, recipe: Recipe) -> list[Laid]:
    """Each segment of a recipe where the judgement found it in the trace, in order."""
    return [
        Laid(
            segment=segment,
            from_s=one.start_s,
            to_s=one.end_s,
            minutes=one.minutes,
            met=one.met,
        )
        for segment, one in zip(recipe.segments, judgement.segments, strict=True)
    ]

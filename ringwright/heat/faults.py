"""What is wrong with a segment, each in a sentence: heat, dips, pressure, rates, minutes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ringwright.heat.channels import ROUNDING, ROUNDING_S, Bools, Working
from ringwright.heat.rates import steepest_per_min
from ringwright.heat.recipe import RAMP, SOAK, Recipe, Segment
from ringwright.heat.soaks import Clock, longest_out
from ringwright.heat.spans import Span
from ringwright.heat.trace import Trace
from ringwright.heat.wording import band_kpa, figure, minutes, when, worst


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """One segment beside what the trace says of it."""

    trace: Trace
    work: Working
    recipe: Recipe
    segment: Segment
    span: Span
    clock: Clock | None
    """None where the segment never began."""
    following: Segment | None
    rate: tuple[float, str, int] | None
    """(size of the steepest slope [degC/min], thermocouple, sample)."""

    @property
    def elapsed_s(self) -> float:
        """From the first to the last sample."""
        if self.span.first is None or self.span.last is None:
            return 0.0
        return float(self.work.at_s[self.span.last] - self.work.at_s[self.span.first])


def faults(case: Case) -> list[str]:
    """What can no longer be mended, whatever the run does next."""
    return [
        *_too_hot(case),
        *_dips(case),
        *_pressure(case),
        *_too_fast(case),
        *_pressed_too_fast(case),
        *_too_long(case),
    ]


def lacking(case: Case) -> list[str]:
    """What is not there yet, or never came."""
    if case.span.lacking:
        return [case.span.lacking]
    least = case.segment.min_minutes
    soak = case.segment.kind == SOAK
    gone_s = case.clock.in_s if soak and case.clock is not None else case.elapsed_s
    if least is None or gone_s >= least * 60.0 - ROUNDING_S:
        return []
    where = " in band" if soak else ""
    # Cut off, never rounded up: 59.96 of 60 min must not read as 60 of 60.
    return [f"{int(gone_s / 6.0 + 1e-6) / 10:g} of {least:g} min{where}"]


def notes(case: Case) -> list[str]:
    """What is to be known although it decides nothing by itself."""
    clock = case.clock
    if clock is None:
        return []
    stood = "the clock stood" if case.segment.kind == SOAK else "nothing is known of it"
    told = []
    if clock.gap_at is not None:
        at = when(case.trace, clock.gap_at)
        told.append(f"gap in the record, {minutes(clock.gap_s)}, longest from {at}: {stood}")
    if clock.silent_at is not None:
        at = when(case.trace, clock.silent_at)
        told.append(
            f"a thermocouple was silent for {minutes(clock.silent_s)}, first at {at}: {stood}"
        )
    return told


def steepest(work: Working, span: Span) -> tuple[float, str, int] | None:
    """(size of the steepest slope [degC/min], thermocouple, sample) of all that work."""
    if span.first is None or span.last is None:
        return None
    part = slice(span.first, span.last + 1)
    found = [
        (rate[0], name, span.first + rate[1])
        for name, read in zip(work.names, work.read_c, strict=True)
        if (rate := steepest_per_min(work.at_s[part], read[part], work.step_s)) is not None
    ]
    return max(found, key=lambda one: one[0]) if found else None


def _too_hot(case: Case) -> Iterator[str]:
    hot = case.span.hot
    if hot is None:
        return
    over = case.work.held_c[:, hot.begin : hot.end + 1] - hot.edge_c
    if over.size and np.fmax(over, -np.inf).max() > ROUNDING:
        name, away, place = worst(case.work, over)
        read = figure(hot.edge_c + away)
        yield f"{name} read {read} °C at {when(case.trace, hot.begin + place)}, {hot.told}"


def _dips(case: Case) -> Iterator[str]:
    clock = case.clock
    if clock is None or clock.longest_dip_at is None:
        return
    own = case.segment.max_dip_minutes
    most = case.recipe.max_dip_minutes if own is None else own
    if clock.longest_dip_s > most * 60.0 + ROUNDING_S:
        yield (
            f"out of band for {minutes(clock.longest_dip_s)} from "
            f"{when(case.trace, clock.longest_dip_at)}, {most:g} min at most"
        )


def _pressure(case: Case) -> Iterator[str]:
    segment, work = case.segment, case.work
    if segment.pressure_kpa is None:
        return
    if work.pressure_kpa is None:
        yield "no pressure was recorded, and the recipe asks for one"
    elif case.span.first is not None and not (segment.kind == RAMP and case.span.lacking):
        yield from _ends_pressed(case) if segment.kind == RAMP else _stays_pressed(case)


def _ends_pressed(case: Case) -> Iterator[str]:
    """Of a ramp the pressure counts where it ends, or just before if it must move on there."""
    segment, last, work = case.segment, case.span.last, case.work
    if last is None or work.pressure_kpa is None:
        return
    near = work.pressed(segment.pressure_kpa or 0.0, segment.pressure_tolerance_kpa or 0.0)
    after = case.following
    moves = after is not None and after.pressure_kpa not in (None, segment.pressure_kpa)
    if near[last] or (moves and last > 0 and near[last - 1]):
        return
    value = work.pressure_kpa[last]
    read = "no reading" if np.isnan(value) else f"{figure(value)} kPa"
    yield f"pressure {read} at {when(case.trace, last)}, where {band_kpa(segment)} is asked"


def _stays_pressed(case: Case) -> Iterator[str]:
    segment, work, first, last = case.segment, case.work, case.span.first, case.span.last
    if first is None or last is None or work.pressure_kpa is None:
        return
    near = work.pressed(segment.pressure_kpa or 0.0, segment.pressure_tolerance_kpa or 0.0)
    if near[first : last + 1].all():
        return
    _, place = longest_out(work.at_s, near, ~near, first, last)
    part = work.pressure_kpa[first : last + 1]
    off = np.abs(part - (segment.pressure_kpa or 0.0))
    at = when(case.trace, first if place is None else place)
    known = ~near[first : last + 1] & ~np.isnan(part)
    if known.any():
        worst_kpa = part[int(np.nanargmax(np.where(known, off, np.nan)))]
        yield f"pressure out of {band_kpa(segment)} at {at}, at worst {figure(worst_kpa)} kPa"
    else:
        yield f"no reading of the pressure at {at}, where {band_kpa(segment)} is asked"


def _too_fast(case: Case) -> Iterator[str]:
    most = case.segment.max_rate_c_per_min
    if most is None or case.rate is None:
        return
    rate, name, place = case.rate
    if _over(rate, most):
        yield (
            f"{name} went {figure(rate)} °C/min from {when(case.trace, place)}, "
            f"{most:g} at most"
        )


def _pressed_too_fast(case: Case) -> Iterator[str]:
    most, first, last = (
        case.segment.max_pressure_rate_kpa_per_min,
        case.span.first,
        case.span.last,
    )
    if most is None or first is None or last is None:
        return
    pressure = case.trace.pressure_kpa
    if pressure is None:
        yield "no pressure was recorded, and the recipe limits its rate"
        return
    part = slice(first, last + 1)
    found = steepest_per_min(case.work.at_s[part], pressure[part], case.work.step_s)
    if found is not None and _over(found[0], most):
        at = when(case.trace, first + found[1])
        yield f"pressure went {figure(found[0])} kPa/min from {at}, {most:g} at most"


def _over(rate: float, most: float) -> bool:
    return rate > most * (1.0 + 1e-9) + ROUNDING


def _too_long(case: Case) -> Iterator[str]:
    most = case.segment.max_minutes
    if most is not None and case.elapsed_s > most * 60.0 + ROUNDING_S:
        yield f"took {minutes(case.elapsed_s)}, {most:g} at most"


def over_ceiling(trace: Trace, work: Working, ceiling_c: float) -> tuple[Bools, str] | None:
    """(samples (n,) above the ceiling, sentence), or None."""
    over = work.read_c - ceiling_c
    if not over.size or not np.fmax(over, -np.inf).max() > ROUNDING:
        return None
    name, away, place = worst(work, over)
    above: Bools = np.fmax.reduce(over, axis=0) > ROUNDING
    told = f"{name} read {figure(ceiling_c + away)} °C at {when(trace, place)}"
    return above, f"{told}, above the ceiling of {ceiling_c:g} °C"

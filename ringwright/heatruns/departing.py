"""Whether a run that goes on has left what good runs of its recipe do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_
from ringwright.furnaces.queries import read_recipe
from ringwright.furnaces.rules import TAKES_READINGS, Run
from ringwright.heat import envelope as heat
from ringwright.heat.judge import judge
from ringwright.heat.minutes import COLDEST, HOTTEST, PRESSURE, SPREAD
from ringwright.heat.recipe import Recipe
from ringwright.heatruns.breaking import broken_min
from ringwright.heatruns.envelopes import corridor_of, trace_in_cycle
from ringwright.heatruns.readings import trace_of
from ringwright.kit.numbers import GAP, Figures
from ringwright.kit.words import Words
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Read

MINUTE_US: Final = 60_000_000
FEATURES: Final[dict[str, str]] = {
    COLDEST: N_("coldest thermocouple"),
    HOTTEST: N_("hottest thermocouple"),
    SPREAD: N_("spread between thermocouples"),
    PRESSURE: N_("pressure"),
}
"""What of a run is compared, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """A run that left the corridor of good runs and stayed outside for some minutes."""

    at_us: int
    """When it had been outside long enough to be told."""
    found: heat.Departure
    good_runs: int
    """Good runs that the corridor was made of."""
    false_alarms: float
    """Share of good runs that are flagged though nothing is wrong."""
    before_min: float | None
    """How long before a limit of the recipe was broken [min]; None: none was since."""

    @property
    def beyond(self) -> float:
        """How far beyond the edge at that minute; degC, of the pressure kPa."""
        one = self.found
        edge = one.low if one.direction == heat.BELOW else one.high
        return abs(one.value - edge)


DEPARTURES: Final = Remembered[Departure | None](most=64)


def departure(read: Read, run: Run) -> Departure | None:
    """When a run first left the good runs' corridor.

    None while it has not, for a run that is decided or has no readings, and while fewer than
    ten good runs of its recipe's revision are known. It is a sign to look, no judgement: what
    the recipe allows is judged elsewhere.
    """
    if run.state not in TAKES_READINGS or not run.batches:
        return None
    recipe = read_recipe(read.connection, read.site.id, run.recipe, run.revision)
    if recipe is None:
        return None
    corridor, envelope = corridor_of(read, recipe)
    if envelope is None:
        return None
    digests = tuple(batch.digest for batch in run.batches)
    key = (corridor, run.code, digests, run.started_us, run.ended_us)
    return DEPARTURES.kept(key, lambda: _departure(read, run, recipe, envelope))


def _departure(
    read: Read, run: Run, recipe: Recipe, envelope: heat.Envelope
) -> Departure | None:
    trace = trace_in_cycle(read, run, failed_of(read, run, recipe))
    if trace is None or not trace.size:
        return None
    found = heat.first_departure(trace, envelope)
    if found is None:
        return None
    broken = broken_min(trace, recipe)
    early = None if broken is None else broken - found.minute
    return Departure(
        at_us=round(float(trace.at_s[0]) * 1e6) + found.minute * MINUTE_US,
        found=found,
        good_runs=envelope.runs,
        false_alarms=envelope.false_alarms,
        before_min=early if early is not None and early > 0 else None,
    )


def failed_of(read: Read, run: Run, recipe: Recipe) -> Sequence[str]:
    """The thermocouples of a run that failed: as judged, or by what was read so far."""
    if run.judgement is not None:
        failed: Sequence[str] = run.judgement["channels_failed"]
        return failed
    trace = trace_of(read.connection, read.site.id, run)
    return () if trace is None else judge(trace, recipe).channels_failed


def departure_text(
    one: Departure, words: Words, show: Figures, site_time: tuple[str, int]
) -> str:
    """Left the good runs' corridor at 14:32, minute 187: coldest thermocouple 6 °C below.

    `site_time` is the site's zone and the moment it is told, microseconds UTC.
    """
    zone, now_us = site_time
    told = words._(
        "left the good runs' corridor at %(when)s, minute %(minute)s: %(what)s",
        when=show.moment(one.at_us, zone, now_us), minute=show.count(one.found.minute),
        what=beyond_text(one.found, one.beyond, words, show),
    )  # fmt: skip
    if one.before_min is None:
        return told
    return words.ngettext(
        "%(told)s; %(n)s minute before a limit was broken",
        "%(told)s; %(n)s minutes before a limit was broken",
        round(one.before_min), told=told,
    )  # fmt: skip


def beyond_text(found: heat.Departure, beyond: float, words: Words, show: Figures) -> str:
    """Coldest thermocouple 6 °C below."""
    unit = "kPa" if found.feature == PRESSURE else "degC"
    far = f"{show.decimal(beyond, 0 if beyond >= 10 else 1)}{GAP}{show.unit(unit)}"
    what = words._(FEATURES[found.feature])
    if found.direction == heat.BELOW:
        return words._("%(what)s %(far)s below", what=what, far=far)
    return words._("%(what)s %(far)s above", what=what, far=far)

"""Is a yield changing? Its control chart, what signals, and how often in vain. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from ringwright.core.calendar import HOUR_US
from ringwright.core.errors import Refused
from ringwright.flow.loads import load_code
from ringwright.measure.chart import individuals_chart
from ringwright.measure.signals import (
    BEYOND,
    RULES,
    binomial_zones,
    by_chance,
    false_signals,
    signals,
    zone_of,
)
from ringwright.yields.model import CYCLE, HOURS, LoadYield, Taken, Trend, YieldSheet
from ringwright.yields.rules import SIGMAS, has_limits

WEEK_US: Final = 168 * HOUR_US
SHARES, SINGLES = "shares", "singles"
KINDS: Final = (SHARES, SINGLES, *HOURS)
"""A p-chart of weeks; a chart of single values: loads one by one, or weeks as they are; charts
of single hours, visit by visit, load by load or part by part."""
MOST_NAMED: Final = 20
"""So many signals are told one by one, the latest; the table has them all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a chart is asked: its kind, rules besides the usual one, a point to open."""

    kind: str = SHARES
    more: tuple[str, ...] = ()
    point: str | None = None

    @property
    def rules(self) -> tuple[str, ...]:
        """All rules looked at, the usual one first."""
        return tuple(rule for rule in RULES if rule == BEYOND or rule in self.more)


def told_of(kind: str | None, more: Sequence[str], point: str | None) -> Told:
    """What an address asks of a chart; raises Refused."""
    if kind and kind not in KINDS:
        raise Refused(f"a chart shows {', '.join(KINDS)}, not {kind[:40]!r}")
    return Told(kind=kind or SHARES, more=tuple(more), point=point or None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """One point: a week or a load."""

    name: str
    """The week, or the load's code."""
    begin_us: int | None
    """When the load began; None for a week."""
    station: str
    value: float | None
    n: int
    loads: int | None
    in_window: bool
    small: bool
    lower: float | None
    upper: float | None
    broken: tuple[str, ...] = ()
    """The rules that it breaks."""
    part: str = ""
    """The serial, where the point is of one part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """One control chart with what it says and how often that is wrong."""

    kind: str
    step: int | None
    """None: final yield."""
    in_loads: bool
    of_loads: bool
    """The points are loads."""
    rules: tuple[str, ...]
    dots: tuple[Dot, ...]
    centre: float | None
    from_before: bool
    false_a_week: float | None
    """Signals to expect in a week of this chart while nothing changes; None without limits."""
    charts: int
    """How many charts of the product have limits: each step's, and final yield's."""
    false_all: float
    """Signals to expect in a week over all their p-charts."""

    @property
    def in_hours(self) -> bool:
        """True where points stand at hours, not at shares."""
        return self.kind in HOURS

    @property
    def signals(self) -> tuple[Dot, ...]:
        """The points that break a rule."""
        return tuple(dot for dot in self.dots if dot.broken)

    @property
    def named(self) -> tuple[Dot, ...]:
        """The signals that are told one by one: the latest."""
        return self.signals[-MOST_NAMED:]


def make_control(sheet: YieldSheet, told: Told, taken: Sequence[Taken] = ()) -> Control:
    """The chart that is asked for, of the step asked for, of final yield or the whole way.

    `taken` are the hours, for a chart of them.
    """
    step = sheet.step(sheet.question.step)
    trend = step.trend if step else sheet.final_trend
    in_loads = step is not None and step.in_loads
    of_loads = in_loads and told.kind != SHARES
    rules = (BEYOND,) if of_loads and told.kind == SINGLES else told.rules
    dots, centre, wrong = _drawn(sheet, trend, (told.kind, rules), taken)
    every = [shares_chart(one, told.rules)[2]
             for one in (sheet.final_trend, *(s.trend for s in sheet.steps))]  # fmt: skip
    kind = CYCLE if told.kind in HOURS and step is None else told.kind
    return Control(
        kind=kind, step=step.number if step else None, in_loads=in_loads,
        of_loads=of_loads, rules=rules, dots=dots, centre=centre,
        from_before=told.kind == SHARES and trend.from_before, false_a_week=wrong,
        charts=sum(one is not None for one in every),
        false_all=sum(one or 0.0 for one in every),
    )  # fmt: skip


Chart = tuple[tuple[Dot, ...], float | None, float | None]
"""Points, centre, and the signals to expect in a week."""


def _drawn(
    sheet: YieldSheet, trend: Trend, how: tuple[str, tuple[str, ...]], taken: Sequence[Taken]
) -> Chart:
    kind, rules = how
    if kind == SHARES:
        return shares_chart(trend, rules)
    if kind in HOURS:
        span_us = taken[-1].end_us - taken[0].end_us if taken else 0
        dots = [_hours(one) for one in taken]
        return singles_chart(dots, rules, max(span_us / WEEK_US, 1.0), math.inf)
    if sheet.loads:
        counted = sum(bool(point.share.n) for point in trend.points)
        # Most loads pass whole: more lie on one side of the mean than chance has to explain.
        return singles_chart(_loads(sheet), rules, max(counted, 1))
    plain = [_dot(trend, place) for place in range(len(trend.points))]
    return singles_chart(plain, rules, None)


def _hours(one: Taken) -> Dot:
    return Dot(
        name=one.name, begin_us=one.begin_us if one.of_load else None, station=one.station,
        value=one.hours, n=one.visits, loads=None, in_window=one.in_window, small=False,
        lower=None, upper=None, part="" if one.of_load else one.name,
    )  # fmt: skip


def _dot(trend: Trend, place: int, broken: tuple[str, ...] = ()) -> Dot:
    point = trend.points[place]
    return Dot(
        name=point.week, begin_us=None, station="", value=point.share.value, n=point.share.n,
        loads=point.share.loads, in_window=point.in_window, small=point.share.small,
        lower=point.lower, upper=point.upper, broken=broken,
    )  # fmt: skip


def shares_chart(trend: Trend, rules: tuple[str, ...]) -> Chart:
    """A p-chart: its points, its centre, and the chance of a signal at its newest week.

    Points of a small n are drawn and break no rule. The chance is exact: the binomial at each
    week's own n (loads where the step works in loads), through the states of the rules.
    """
    centre = trend.centre.value
    zones: list[int | None] = []
    chances: list[dict[int, float] | None] = []
    for point in trend.points:
        value, n = point.share.value, point.share.counted
        if value is None or centre is None or not has_limits(centre) or point.share.small:
            zones.append(None)
            chances.append(None)
            continue
        zones.append(zone_of(value, centre, (centre * (1 - centre) / n) ** 0.5))
        chances.append(binomial_zones(n, centre))
    broken = signals(zones, rules, [point.share.value for point in trend.points])
    dots = tuple(_dot(trend, place, broken.get(place, ())) for place in range(len(zones)))
    if all(one is None for one in chances):
        return dots, centre, None
    wrong = [
        one for one, had in zip(false_signals(chances, rules), chances, strict=True) if had
    ]
    return dots, centre, wrong[-1]


def _loads(sheet: YieldSheet) -> list[Dot]:
    return [_load(load, sheet.zone) for load in sheet.loads]


def _load(load: LoadYield, zone: str) -> Dot:
    return Dot(
        name=load_code(load.station, load.begin_us, zone), begin_us=load.begin_us,
        station=load.station, value=load.first_passes / load.first_visits, n=load.first_visits,
        loads=None, in_window=load.in_window, small=False, lower=None, upper=None,
    )  # fmt: skip


def singles_chart(
    dots: Sequence[Dot], rules: tuple[str, ...], weeks: float | None, most: float = 1.0
) -> Chart:
    """A chart of single values: limits from the moving ranges, so from the spread itself.

    Weeks of a small n are drawn and left out of the limits. `weeks` is how many weeks the
    points come from, None where each is a week; no value is more than `most`, or below nought.
    """
    counted = [d.value for d in dots if d.value is not None and not d.small]
    chart = individuals_chart(counted)
    if chart is None or chart.sigma == 0:
        return tuple(_limited(dot, None, None, ()) for dot in dots), None, None
    zones = [
        None if dot.value is None or dot.small else zone_of(dot.value, chart.mean, chart.sigma)
        for dot in dots
    ]
    broken = signals(zones, rules, [dot.value for dot in dots])
    reach = SIGMAS * chart.sigma
    ends = max(0.0, chart.mean - reach), min(most, chart.mean + reach)
    found = tuple(
        _limited(dot, *ends, broken.get(place, ())) for place, dot in enumerate(dots)
    )  # fmt: skip
    a_week = 1.0 if weeks is None else len(counted) / weeks
    return found, chart.mean, a_week * by_chance(rules)


def _limited(
    dot: Dot, lower: float | None, upper: float | None, broken: tuple[str, ...]
) -> Dot:
    return replace(dot, lower=lower, upper=upper, broken=broken)

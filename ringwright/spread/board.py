"""The spread as drawn: histogram with limits, running chart, indices, words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from ringwright.core.glossary import N_
from ringwright.kit.charts import Scale
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.measure.chart import BEYOND, SIDE, TREND
from ringwright.spread.queries import Spread, SpreadSheet

RULES: Final[dict[str, str]] = {
    BEYOND: N_("beyond the control limits"),
    SIDE: N_("the ninth in a row on one side of the mean"),
    TREND: N_("the sixth in a row that rises or falls"),
}
"""Nelson's tests 1, 2 and 3 in words."""
DRAWN: Final = 400
"""Points of the running chart that one screen can tell apart."""
NEW: Final = 20
"""A drift counts as one of now when it is among this many of the latest parts."""
TOP, FLOOR = 12.0, 172.0
"""Where the pictures' paper begins and ends, in CSS pixels down."""
MOST_BARS: Final = 30

Link = Callable[..., str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar of the histogram: across in per cent, down in pixels."""

    x: float
    width: float
    y: float
    height: float
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Post:
    """A line across the value's axis: a limit, the mean, a control limit."""

    at: float
    text: str
    kind: str
    """`limit`, `mean` or `control`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """One part on the running chart."""

    x: float
    y: float
    flagged: bool
    outside: bool
    told: str


@dataclass(frozen=True, kw_only=True)
class Pictures:
    """Both pictures of one characteristic."""

    bars: tuple[Bar, ...]
    across: tuple[Post, ...]
    """Posts of the histogram; `at` is in per cent across."""
    dots: tuple[Dot, ...]
    down: tuple[Post, ...]
    """Posts of the running chart; `at` is in pixels down."""
    path: str
    """The dots in their order, as points of a polyline in a picture 100 wide."""
    left_out: int
    """Older parts that the running chart has no room for."""


def draw(spread: Spread, show: Figures) -> Pictures | None:
    """The pictures; None with fewer than two readings."""
    if spread.chart is None:
        return None
    ends = _ends(spread)
    across = Scale(*ends, 2.0, 98.0)
    down = Scale(*ends, FLOOR, TOP)
    dots = _dots(spread, show, down)
    return Pictures(
        bars=_bars(spread, show, across),
        across=_posts(spread, show, across, control=False),
        dots=dots,
        down=_posts(spread, show, down, control=True),
        path=" ".join(f"{dot.x},{dot.y}" for dot in dots),
        left_out=max(0, len(spread.points) - DRAWN),
    )


def _ends(spread: Spread) -> tuple[float, float]:
    one, chart = spread.characteristic, spread.chart
    assert chart is not None
    known = [point.value for point in spread.points]
    known += [limit for limit in (one.lower, one.upper) if limit is not None]
    low, high = min(*known, chart.low), max(*known, chart.high)
    margin = (high - low) * 0.03 or abs(high) * 0.01 or 1.0
    return low - margin, high + margin


def _bars(spread: Spread, show: Figures, across: Scale) -> tuple[Bar, ...]:
    """Bins by Freedman and Diaconis (1981), no finer than the last digit."""
    values = np.array([point.value for point in spread.points])
    decimals = spread.characteristic.decimals
    edges = np.histogram_bin_edges(values, bins="fd")
    finest = max(1, round(float(np.ptp(values)) * 10**decimals))
    bins = int(min(max(len(edges) - 1, 5), MOST_BARS, finest))
    counts, edges = np.histogram(values, bins=bins)
    tall = Scale(0.0, float(counts.max()), 0.0, FLOOR - TOP - 16)
    found = []
    for count, low, high in zip(counts.tolist(), edges[:-1], edges[1:], strict=True):
        height = tall(count)
        ends = (show.decimal(float(low), decimals), show.decimal(float(high), decimals))
        found.append(
            Bar(
                x=across(float(low)),
                width=round(across(float(high)) - across(float(low)), 2),
                y=round(FLOOR - height, 2),
                height=height,
                told=f"{ends[0]} \u2013 {ends[1]}: {show.count(count)}",
            )
        )
    return tuple(found)


def _posts(spread: Spread, show: Figures, scale: Scale, *, control: bool) -> tuple[Post, ...]:
    one, chart = spread.characteristic, spread.chart
    assert chart is not None
    found = [
        Post(at=scale(limit), text=show.reading(limit, one.decimals), kind="limit")
        for limit in (one.lower, one.upper)
        if limit is not None
    ]
    mean = show.decimal(chart.mean, one.decimals + 1)
    found.append(Post(at=scale(chart.mean), text=mean, kind="mean"))
    if control:
        found += [
            Post(at=scale(at), text=show.decimal(at, one.decimals + 1), kind="control")
            for at in (chart.low, chart.high)
        ]
    return tuple(found)


def _dots(spread: Spread, show: Figures, down: Scale) -> tuple[Dot, ...]:
    one, chart = spread.characteristic, spread.chart
    assert chart is not None
    first = max(0, len(spread.points) - DRAWN)
    points = spread.points[first:]
    along = Scale(0.0, float(max(1, len(points) - 1)), 2.0, 98.0)
    return tuple(
        Dot(
            x=along(float(place)),
            y=down(point.value),
            flagged=first + place in chart.flags,
            outside=not one.inside(point.value),
            told=f"{point.serial}: {show.reading(point.value, one.decimals)}",
        )
        for place, point in enumerate(points)
    )


@dataclass(frozen=True, slots=True)
class SpreadWords:
    """What the spread says, in one language."""

    words: Words
    show: Figures

    def verdict(self, spread: Spread) -> str:
        """Steady, or what stands out and at which part, the latest first."""
        _, chart = self.words._, spread.chart
        if chart is None:
            return _("too few readings")
        if chart.steady:
            return _("steady")
        place = max(chart.flags)
        rules = ", ".join(_(RULES[rule]) for rule in chart.flags[place])
        told = _("%(part)s: %(rules)s", part=spread.points[place].serial, rules=rules)
        if len(chart.flags) == 1:
            return told
        more = self.show.count(len(chart.flags) - 1)
        return _("%(told)s; %(n)s more before", told=told, n=more)

    def standing(self, spread: Spread) -> str:
        """The verdict of a row, which says first whether it is one of now."""
        verdict = self.verdict(spread)
        if spread.chart is None or spread.chart.steady:
            return verdict
        if self.drifts(spread):
            return self.words._("drifts now: %(what)s", what=verdict)
        return self.words._(
            "before the latest %(n)s: %(what)s", n=self.show.count(NEW), what=verdict
        )

    def drifts(self, spread: Spread) -> bool:
        """True when something stands out among the latest parts."""
        chart = spread.chart
        return chart is not None and any(
            place >= len(spread.points) - NEW for place in chart.flags
        )

    def answer(self, sheet: SpreadSheet) -> str:
        """The page's one line."""
        _, show = self.words._, self.show
        if sheet.chosen is not None:
            name = sheet.chosen.characteristic.code.replace("_", " ")
            verdict = self.verdict(sheet.chosen)
            return _("%(name)s: %(verdict)s", name=name, verdict=verdict)
        drifting = [
            one.characteristic.code.replace("_", " ")
            for one in sheet.spreads
            if self.drifts(one)
        ]
        if not any(one.points for one in sheet.spreads):
            return _("Nothing has been read of %(product)s yet", product=sheet.card.product)
        if not drifting:
            return _("Nothing drifts among the latest %(n)s parts", n=show.count(NEW))
        return _("Drifting: %(names)s", names=", ".join(drifting))

    def index(self, spread: Spread, name: str) -> str:
        """An index with its interval, as `1.42 (1.21 to 1.63)`; a dash without one."""
        found = spread.capability.index(name) if spread.capability else None
        if found is None:
            return "\u2013"
        show = self.show
        return self.words._(
            "%(value)s (%(low)s to %(high)s)",
            value=show.decimal(found.value, 2),
            low=show.decimal(found.low, 2),
            high=show.decimal(found.high, 2),
        )

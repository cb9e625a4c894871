"""A part's life drawn along time: waiting stands on the line, work hangs from it. Pure.

Across, everything is in per cent of the width; down it is in CSS pixels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from ringwright.core.calendar import site_time, wall_us
from ringwright.kit.charts import Scale
from ringwright.parts.rows import FOREVER_US
from ringwright.parts.state import Part

LEAST: Final = 0.25
"""The narrowest bar [% of the width]: a visit of a minute is seen too."""
LABEL_GAP: Final = 3.4
MOST_TICKS: Final = 9
DAY_US: Final = 24 * 3600 * 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A stretch of the part's life; `shape` is wait, work or stock."""

    shape: str
    x: float
    width: float
    label: str = ""
    label_x: float = 0.0

    @property
    def end(self) -> float:
        """Where it ends."""
        return round(self.x + self.width, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A midnight at the site, and the moment it stands for."""

    x: float
    at_us: int

    @property
    def side(self) -> str:
        """Which way its words run, so that none leaves the picture."""
        return "left" if self.x < 7 else "right" if self.x > 93 else "middle"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lifeline:
    """The whole picture."""

    bars: tuple[Bar, ...]
    ties: tuple[Bar, ...]
    """Spans on hold."""
    stops: tuple[float, ...]
    ticks: tuple[Tick, ...]
    end: str
    """How it ends: open, released, sent, scrapped or fitted."""
    end_x: float


def draw_lifeline(part: Part, now_us: int, zone: str) -> Lifeline:
    """The life of a part from its creation to now, or to the end of it."""
    life = part.life
    gone = {"sent": life.sent_us, "scrapped": life.scrapped_us, "fitted": life.used_us}
    end_us = gone.get(part.place) or now_us
    last_us = max(end_us, part.last_at_us, life.created_us + 60_000_000)
    scale = Scale(life.created_us, last_us, 0.0, 100.0)
    bars = _labelled(_bars(part, end_us, scale))
    return Lifeline(
        bars=tuple(bars),
        ties=tuple(
            _bar("tie", row.from_us, min(row.to_us, end_us), scale) for row in part.holds
        ),
        stops=tuple(scale(row.opened_us) for row in part.nonconformities),
        ticks=_ticks(life.created_us, last_us, scale, zone),
        end=part.place if part.place in (*gone, "released") else "open",
        end_x=scale(end_us),
    )


def _bar(shape: str, start_us: int, end_us: int, scale: Scale, label: str = "") -> Bar:
    x = scale(start_us)
    width = max(LEAST, round(scale(max(start_us, end_us)) - x, 2))
    return Bar(shape=shape, x=min(x, 100 - LEAST), width=width, label=label)


def _bars(part: Part, end_us: int, scale: Scale) -> list[Bar]:
    found = []
    for row in part.visits:
        ended = min(row.end_us, end_us)
        if row.step is not None:
            found.append(_bar("work", row.begin_us, ended, scale, str(row.step)))
        if row.end_us >= FOREVER_US:
            continue
        left = row.leave_us
        if row.next_step is not None:
            found.append(_bar("wait", row.end_us, min(left, end_us), scale))
        elif part.place in ("released", "sent") and row is part.visits[-1]:
            found.append(_bar("stock", row.end_us, end_us, scale))
    return found


def _labelled(bars: Sequence[Bar]) -> list[Bar]:
    """Step numbers under the bars, as many as do not run into one another."""
    found, last = [], -100.0
    for bar in bars:
        middle = round(bar.x + bar.width / 2, 2)
        if bar.label and middle - last >= LABEL_GAP:
            last = middle
            found.append(
                Bar(shape=bar.shape, x=bar.x, width=bar.width, label=bar.label, label_x=middle)
            )
        else:
            found.append(Bar(shape=bar.shape, x=bar.x, width=bar.width))
    return found


def _ticks(start_us: int, end_us: int, scale: Scale, zone: str) -> tuple[Tick, ...]:
    """Midnights at the site, every day or every so many, at most nine."""
    days = max(1, (end_us - start_us) // DAY_US)
    each = next(
        (n for n in (1, 2, 7, 14, 28, 91, 364) if days <= n * MOST_TICKS),
        int(days // MOST_TICKS) + 1,
    )
    first = site_time(start_us, zone).replace(tzinfo=None)
    midnight = first.replace(hour=0, minute=0, second=0, microsecond=0)
    day = midnight + timedelta(days=1)
    found = []
    while (at_us := wall_us(day, zone)) < end_us:
        found.append(Tick(x=scale(at_us), at_us=at_us))
        day += timedelta(days=each)
    return tuple(found)

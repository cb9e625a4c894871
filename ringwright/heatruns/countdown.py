"""The windows drawn: one bar a part, from now to when its window is over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.heatruns.waiting import ForFurnace

ROW: Final = 38
TOP: Final = 26
HOURS: Final = (1, 2, 4, 8, 12, 24, 48, 72, 168)
"""How many hours the picture may span."""
HOUR_US: Final = 3_600_000_000
MOST: Final = 40
"""Rows drawn; the table under the picture has them all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One part's window: it ends at `x` in hundredths of the width; over is None."""

    part: ForFurnace
    y: int
    x: float
    over: bool

    @property
    def top(self) -> int:
        """Where the mark of a window that is over begins."""
        return self.y + 2

    @property
    def head(self) -> int:
        """Where the post at its end begins."""
        return self.y + 16

    @property
    def line(self) -> int:
        """The height of the bar itself."""
        return self.y + 23

    @property
    def foot(self) -> int:
        """Where mark and post end."""
        return self.y + 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Countdown:
    """The picture."""

    bars: tuple[Bar, ...]
    ticks: tuple[tuple[float, int], ...]
    """Place and hours from now."""
    height: int
    hidden: int
    """Parts with a window that are not drawn."""


def draw_countdown(waiting: Sequence[ForFurnace], now_us: int) -> Countdown:
    """The parts that have a window, those that end first on top."""
    within = [one for one in waiting if one.deadline_us is not None]
    shown = within[:MOST]
    longest = max((one.left_us(now_us) or 0 for one in shown), default=0)
    span = next((h for h in HOURS if h * HOUR_US >= longest), HOURS[-1])
    bars = tuple(
        Bar(
            part=one,
            y=TOP + ROW * place,
            x=round(min(max(one.left_us(now_us) or 0, 0) / (span * HOUR_US), 1.0) * 100, 2),
            over=(one.left_us(now_us) or 0) < 0,
        )
        for place, one in enumerate(shown)
    )
    steps = [span * part // 4 for part in range(5)] if span >= 4 else range(span + 1)
    return Countdown(
        bars=bars,
        ticks=tuple((round(hour / span * 100, 2), hour) for hour in steps),
        height=TOP + ROW * len(bars) + 6,
        hidden=len(within) - len(shown),
    )

"""The ladder of groups: dot and posts of each, one under the other. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.kit.charts import Scale, interval_floor
from ringwright.weldyield.model import Group, Share

RUNG_PX: Final = 34
SHOWN: Final = 30
LEFT, RIGHT = 34.0, 98.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One group: across in per cent, down in CSS pixels."""

    key: str
    y: int
    dot: float
    low: float
    high: float
    small: bool
    hard: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """The picture: its rungs, the line of all welds, the ticks of its scale."""

    rungs: tuple[Rung, ...]
    height: int
    all_at: float
    ticks: tuple[tuple[float, int], ...]
    """Across, and per cent."""
    left_out: int


def draw_ladder(groups: Sequence[Group], every: Share) -> Ladder | None:
    """The ladder of the groups that there is room for; None of nothing."""
    shown = [group for group in groups if group.share.n][:SHOWN]
    if not shown or every.value is None:
        return None
    floor = interval_floor([group.share.low for group in shown] + [every.value])
    scale = Scale(floor, 1.0, LEFT, RIGHT)
    rungs = tuple(_rung(group, place, scale) for place, group in enumerate(shown))
    step = 10 if floor >= 0.4 else 20
    ticks = range(-(-round(floor * 100) // step) * step, 101, step)
    return Ladder(
        rungs=rungs,
        height=len(rungs) * RUNG_PX + 40,
        all_at=scale(every.value),
        ticks=tuple((scale(tick / 100), tick) for tick in ticks),
        left_out=len(groups) - len(shown),
    )


def _rung(group: Group, place: int, scale: Scale) -> Rung:
    share = group.share
    return Rung(
        key=group.key,
        y=place * RUNG_PX + 18,
        dot=scale(share.value or 0.0),
        low=scale(share.low or 0.0),
        high=scale(share.high or 0.0),
        small=share.small,
        hard=group.hard,
    )

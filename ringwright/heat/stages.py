"""The stages of a run: neighbouring segments at one temperature, and where each stage lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.heat.channels import Working
from ringwright.heat.laying import lay
from ringwright.heat.recipe import RAMP, Recipe, Segment

UP: Final = 1
DOWN: Final = -1
LEVEL: Final = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """Segments that share a target, and the samples [begin, end) that belong to it."""

    segments: tuple[Segment, ...]
    begin: int
    end: int
    way: int
    """UP on heating, DOWN on cooling, LEVEL where the record begins in the band."""
    next_way: int | None
    """Where the recipe goes from here; None after its last stage."""
    next_end: int
    """Where the next stage ends that has begun, else where this one does."""
    following: Segment | None
    """The segment after this stage."""
    begun: bool
    before: str
    """Why it has not begun; empty where it has."""

    @property
    def ramp(self) -> Segment | None:
        """The way to the target, where the recipe says something of it."""
        return self.segments[0] if self.segments[0].kind == RAMP else None

    @property
    def holds(self) -> tuple[Segment, ...]:
        """What happens at the target: soaks, and ramps of the pressure alone."""
        return self.segments[1:] if self.ramp is not None else self.segments

    @property
    def vents_to(self) -> Segment | None:
        """The segment whose pressure ends the last hold; None where its own is not asked."""
        after = self.following
        if after is None or after.pressure_kpa is None or not self.holds:
            return None
        return after if self.holds[-1].pressure_kpa is not None else None

    @property
    def runs_over_to_end(self) -> bool:
        """True where nothing hotter follows, so that all above the band is too hot."""
        return self.next_way != UP


def stages_of(work: Working, recipe: Recipe) -> list[Stage]:
    """The stages of a recipe on a trace of at least one sample, one thermocouple."""
    groups = _groups(recipe.segments)
    targets = [group[0].target_c for group in groups]
    bands = [max(one.tolerance_c for one in group) for group in groups]
    laid = lay(work.middle_c, targets, bands, work.weight_s)
    ways = [_way(work, groups[0][0]), *map(_turn, targets, targets[1:])]
    found = []
    for place, group in enumerate(groups):
        begun = place < len(laid)
        begin, end = (laid[place].begin, laid[place].end) if begun else (work.size, work.size)
        later = place + 1 < len(groups)
        found.append(
            Stage(
                segments=group,
                begin=begin,
                end=end,
                way=ways[place],
                next_way=ways[place + 1] if later else None,
                next_end=laid[place + 1].end if place + 1 < len(laid) else end,
                following=groups[place + 1][0] if later else None,
                begun=begun,
                before="" if begun else _before(groups[len(laid) - 1][0], laid[-1].approached),
            )
        )
    return found


def _groups(segments: Sequence[Segment]) -> list[tuple[Segment, ...]]:
    groups: list[list[Segment]] = []
    for one in segments:
        if groups and groups[-1][0].target_c == one.target_c:
            groups[-1].append(one)
        else:
            groups.append([one])
    return [tuple(group) for group in groups]


def _way(work: Working, first: Segment) -> int:
    """Where the run goes at its beginning."""
    begins_c = float(work.middle_c[0])
    if abs(begins_c - first.target_c) <= first.tolerance_c:
        return LEVEL
    return _turn(begins_c, first.target_c)


def _turn(from_c: float, to_c: float) -> int:
    return UP if to_c > from_c else DOWN


def _before(last: Segment, approached: bool) -> str:
    if approached:
        return "the record ends before this segment began"
    return not_begun(last)


def not_begun(before: Segment) -> str:
    """Why a segment has not begun: the one before it was never reached."""
    return f"not begun: {before.name} before it was never reached"

"""Two groups of one dimension compared, and how many comparisons that could have been. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from ringwright.measure.two_groups import by_loads, fisher, holm, newcombe
from ringwright.yields.model import YieldSheet
from ringwright.yields.rules import Share

MOST_PAIRS: Final = 300
"""Of more pairs than these only those with the first group are worked out; all still count."""
MANY: Final = 2
"""From so many possible comparisons on the page warns of them."""
HARD: Final = 0.05
EXACT, LOADS = "exact", "loads"

Loads = Mapping[str, Sequence[tuple[int, int]]]
"""Group to its loads: (passed, parts) of the first visits of each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One of the groups."""

    key: str
    good: int
    share: Share


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two groups: the difference of their shares with its 95 % interval, and the chances."""

    a: Side
    b: Side
    difference: float
    low: float
    high: float
    chance: float
    """Two-sided p of the test, as if this pair alone had been looked at."""
    adjusted: float
    """The same made good for all pairs (Holm)."""
    test: str

    @property
    def small(self) -> bool:
        """True where a group has too little to speak of a change."""
        return self.a.share.small or self.b.share.small

    @property
    def hard(self) -> bool:
        """True where chance alone explains it badly, all pairs considered."""
        return self.adjusted < HARD


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A group against another, and against every other."""

    by: str
    step: int | None
    sides: tuple[Side, ...]
    chosen: Pair | None
    """None where there are no two groups, or they share parts."""
    pairs: tuple[Pair, ...]
    """The first group against each other one."""
    could: int
    """How many pairs there are to choose from."""
    overlap: bool
    """True where one part can be in several groups, so that no test holds."""

    @property
    def many(self) -> bool:
        """True when somebody could look until something stands out."""
        return self.could >= MANY


def compare(sheet: YieldSheet, loads: Loads | None, first: str | None, second: str | None
            ) -> Comparison:  # fmt: skip
    """Compare two groups of a sheet by their first-pass yield at its step, or final yield.

    `loads` is given where the step works in loads. Without a name the two largest are taken.
    """
    step = sheet.question.step
    overlap = step is None and sheet.by in ("station", "furnace")
    sides = _sides(sheet)
    could = len(sides) * (len(sides) - 1) // 2
    if overlap or len(sides) < 2:
        return Comparison(by=sheet.by, step=step, sides=sides, chosen=None, pairs=(),
                          could=could, overlap=overlap)  # fmt: skip
    a = _named(sides, first, None)
    b = _named(sides, second, a)
    pairs = _pairs(sides, a, loads, could)
    chosen = next(pair for pair in pairs if pair.b.key == b.key)
    return Comparison(by=sheet.by, step=step, sides=sides, chosen=chosen, pairs=pairs,
                      could=could, overlap=False)  # fmt: skip


def _sides(sheet: YieldSheet) -> tuple[Side, ...]:
    final = sheet.question.step is None
    shares = [(group.key, group.final if final else group.first_pass) for group in sheet.groups]
    return tuple(
        Side(key=key, good=round((share.value or 0.0) * share.n), share=share)
        for key, share in shares
        if share.n
    )


def _named(sides: Sequence[Side], key: str | None, other: Side | None) -> Side:
    """The group of that name, else the largest one that is not the other."""
    free = [side for side in sides if side is not other]
    found = [side for side in free if side.key == key]
    return found[0] if found else max(free, key=lambda side: side.share.n)


def _pairs(sides: Sequence[Side], a: Side, loads: Loads | None, could: int) -> tuple[Pair, ...]:
    """The first group against each other, every p adjusted for all pairs there are."""
    every = could <= MOST_PAIRS
    wanted = list(combinations(sides, 2)) if every else [(a, b) for b in sides if b is not a]
    chances = [_chance(one, two, loads) for one, two in wanted]
    # Of too many pairs Holm's first step stands for all of them: never too small.
    adjusted = holm(chances) if every else [min(1.0, could * one) for one in chances]
    found = []
    for (one, two), chance, made_good in zip(wanted, chances, adjusted, strict=True):
        if a in (one, two):
            other = two if one is a else one
            found.append(_pair(a, other, (chance, made_good), loads))
    return tuple(found)


def _chance(a: Side, b: Side, loads: Loads | None) -> float:
    if loads is None:
        return fisher(a.good, a.share.n, b.good, b.share.n)
    return by_loads(loads[a.key], loads[b.key])


def _pair(a: Side, b: Side, chances: tuple[float, float], loads: Loads | None) -> Pair:
    one, two = a.share, b.share
    share_a, share_b = one.value or 0.0, two.value or 0.0
    low, high = newcombe(share_a * one.counted, one.counted, share_b * two.counted, two.counted)
    return Pair(
        a=a, b=b, difference=share_a - share_b, low=low, high=high, chance=chances[0],
        adjusted=chances[1], test=EXACT if loads is None else LOADS,
    )  # fmt: skip

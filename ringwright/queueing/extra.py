"""What an hour more at each station group would release this week: with and without, paired.

Each pair of runs has the same random numbers, so that their difference is the hour's alone. A
group whose hour nothing would have used in a run gains nothing in it, and is not run again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as students

from ringwright.queueing.luck import Luck
from ringwright.queueing.shop import ENDLESS, Shop
from ringwright.queueing.walk import Extra, Walk

HOUR_H: Final = 1.0
SHIFT_H: Final = 8.0
BEST: Final = 3
"""Groups of which a whole shift is asked too."""
EFFORT: Final = 240_000
"""Events that an answer may cost: counted, so that it is the same on every machine."""
LEAST: Final = 8
MOST: Final = 200
"""Pairs of runs, at least and at most."""
SCREEN: Final = 4
GO_ON: Final = 6
"""After so many pairs only so many groups, those that may yet be the best, are run on."""
_RESAMPLED: Final = 2_000
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """Parts more by the end of the week, on the mean over the pairs of runs."""

    mean: float
    error: float
    """Standard error of the mean."""
    low: float
    high: float
    """95 % interval by Student's t."""

    @property
    def seen(self) -> bool:
        """False where the interval includes nought: no difference seen."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupGain:
    """What an hour more at one group gives, and how it would be added."""

    code: str
    beside: bool
    """True: as a server beside the others, from now on; False: in closed hours."""
    at_h: float
    """When it begins [h from now]."""
    hour: Gain
    runs: int
    """Pairs of runs that it is from."""
    used: float
    """Share of the runs in which anything would have used it."""
    best: float
    """Chance that no other group's hour gives more; nought where none gives anything."""
    shift: Gain | None = None
    """The same for eight hours; of the best three only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gains:
    """The answer: every group, the most gained first."""

    runs: int
    without: Gain
    """Parts released from now to the end of the week as things are."""
    groups: tuple[GroupGain, ...]
    left_out: tuple[str, ...] = ()
    """Groups that could not be given an hour before the week ends."""

    @property
    def named(self) -> GroupGain | None:
        """The best one, where a gain is seen at all."""
        first = self.groups[0] if self.groups else None
        return first if first and first.hour.low > 0 else None


def extra_of(shop: Shop, group: int, hours: float) -> Extra | None:
    """How a group may be given more: in its next closed hours; beside it round the clock.

    None where it has no closed hour left this week and does not work round the clock, and for
    one that has no open station.
    """
    one, left, more = shop.groups[group], hours, []
    if not 0 < one.servers < ENDLESS:
        return None
    if one.round_the_clock:
        return Extra(group=group, beside_h=hours)
    for begin, end in one.clock.closed(shop.end_h):
        if left > 1e-9:
            more.append((begin, min(end, begin + left)))
            left -= more[-1][1] - begin
    return Extra(group=group, more=tuple(more)) if more else None


def gains(shop: Shop, seed: int = 1, effort: int = EFFORT, runs: int | None = None) -> Gains:
    """What one hour more would give at each group; for so many runs, or what effort allows."""
    groups = range(len(shop.groups))
    hours = {k: one for k in groups if (one := extra_of(shop, k, HOUR_H)) is not None}
    pairs = _Pairs(shop, seed, hours, effort)
    pairs.first(runs)
    order = pairs.order()
    shifts = {k: pairs.shift(k) for k in order[:BEST]}
    chance = _chances([pairs.more[k] for k in order], seed)
    return Gains(
        runs=len(pairs.before),
        without=_gain([walk.released for _, walk in pairs.before]),
        groups=tuple(
            GroupGain(
                code=shop.groups[k].code,
                beside=bool(hours[k].beside_h),
                at_h=hours[k].window(shop.groups[k].clock)[0],
                hour=_gain(pairs.more[k]),
                runs=len(pairs.more[k]),
                used=float(np.mean(pairs.used[k])),
                best=float(chance[place]),
                shift=_gain(shifts[k]) if k in shifts else None,
            )
            for place, k in enumerate(order)
        ),
        left_out=tuple(
            one.code for k, one in enumerate(shop.groups) if k not in hours and one.code
        ),
    )


class _Pairs:
    """The pairs of runs, and what they differed by."""

    def __init__(self, shop: Shop, seed: int, hours: dict[int, Extra], effort: int) -> None:
        self.shop, self.seed, self.hours, self.left = shop, seed, hours, effort
        self.long = {k: one for k in hours if (one := extra_of(shop, k, SHIFT_H)) is not None}
        self.before: list[tuple[Luck, Walk]] = []
        self.more: dict[int, list[int]] = {k: [] for k in hours}
        self.used: dict[int, list[bool]] = {k: [] for k in hours}

    def first(self, runs: int | None) -> None:
        """Runs without and with an hour, until the effort is spent."""
        going: list[int] = []
        while len(self.before) < (runs or MOST):
            if runs is None and self.left <= 0 and len(self.before) >= LEAST:
                break
            luck = Luck(self.shop, f"{self.seed}/{len(self.before)}")
            walk = Walk(self.shop, luck, tuple(self.long.values()))
            self.left -= walk.events
            self.before.append((luck, walk))
            if runs is None and len(self.before) > SCREEN:
                going = going or self._promising()
            for k in going or self.hours:
                extra = self.hours[k]
                used = self._used(walk, extra)
                self.used[k].append(used)
                self.more[k].append(self._more(luck, walk, extra) if used else 0)

    def order(self) -> list[int]:
        """The groups, the most gained first; of those alike the one more often used."""
        mean, used = (
            {k: float(np.mean(some)) for k, some in told.items()}
            for told in (self.more, self.used)
        )
        return sorted(self.hours, key=lambda k: (-mean[k], -used[k], k))

    def _promising(self) -> list[int]:
        """The groups whose gain may yet turn out the largest."""
        known = {k: _gain(self.more[k]) for k in self.hours}
        order = sorted(self.order(), key=lambda k: -(known[k].mean + 2 * known[k].error))
        return order[:GO_ON]

    def shift(self, group: int) -> list[int]:
        """The same runs with a whole shift more at one group."""
        extra = self.long[group]
        return [
            self._more(luck, walk, extra) if self._used(walk, extra) else 0
            for luck, walk in self.before
        ]

    def _used(self, walk: Walk, extra: Extra) -> bool:
        clock = self.shop.groups[extra.group].clock
        return walk.wanted[extra.group] <= extra.window(clock)[1]

    def _more(self, luck: Luck, without: Walk, extra: Extra) -> int:
        having = Walk(self.shop, luck, (extra,), without)
        self.left -= having.events
        inside = self.shop.after[extra.group]
        return having.released - sum(
            self._last(luck, without, part) in inside for _, part in without.out
        )

    def _last(self, luck: Luck, walk: Walk, part: int) -> int:
        """The last group a part came to: who was ever inside what is touched ends there."""
        stage = luck.visits[part][len(walk.came[part]) - 1][0]
        return self.shop.stages[stage].group


def _gain(values: Sequence[int]) -> Gain:
    mean, n = float(np.mean(values)), len(values)
    error = float(np.std(values, ddof=1)) / n**0.5 if n > 1 else inf
    half = float(students.ppf(0.975, n - 1)) * error if n > 1 else inf
    return Gain(mean=mean, error=error, low=mean - half, high=mean + half)


def _chances(more: Sequence[Sequence[int]], seed: int) -> Floats:
    """Of each group the chance that its hour gives most, by weighing the runs anew (the
    Bayesian bootstrap; D. B. Rubin, Annals of Statistics 9, 1981, 130-134); ties share."""
    if not any(map(any, more)):
        return np.zeros(len(more))
    most = max(map(len, more))
    # One weight for a run, whichever group it is looked at for: the runs are paired.
    weights: Any = np.random.default_rng(seed).standard_exponential((_RESAMPLED, most))
    means = np.column_stack(
        [(weights[:, : len(some)] @ some) / weights[:, : len(some)].sum(axis=1)
         for some in map(np.array, more)]
    )  # fmt: skip
    top = means >= means.max(axis=1, keepdims=True) - 1e-12
    found: Floats = (top / top.sum(axis=1, keepdims=True)).mean(axis=0)
    return found

"""How many to start so that enough come through, with what is known of each step's yield.

With known yields the number of starts until the k-th good part is negative binomial, and the
answer is its quantile. Here the yields are known from counts only: each is drawn from its Beta
distribution (Jeffreys' prior; L. D. Brown, T. T. Cai and A. DasGupta, Statistical Science 16,
2001, 101-133), and the chance is the mean over the draws. Parts in work come through by a
product of the same draws, so that a bad step is bad for all of them at once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc
from scipy.stats import beta, binom, qmc

Floats = NDArray[np.float64]

DRAWS: Final = 256
"""Spread evenly by Sobol's sequence, a power of two; as sure as many more at random."""
PRIOR: Final = 0.5
"""Jeffreys: half a part through, half a part lost."""
NEVER: Final = 1e-9
"""A number of parts so unlikely in every draw is left out of the sum."""
MOST: Final = 20_000
"""More starts than any cell plans at once; an answer beyond it is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What is known of the yield of one step: counts, or an assumption where there are none."""

    step: int
    through: int = 0
    lost: int = 0
    parts_a_load: float = 1.0
    """Parts of one load fail together, so so many of them tell as much as one."""
    assumed: float | None = None

    @property
    def posterior(self) -> tuple[float, float]:
        """The Beta distribution's two parameters."""
        return (
            self.through / self.parts_a_load + PRIOR,
            self.lost / self.parts_a_load + PRIOR,
        )

    @property
    def mean(self) -> float:
        """The yield to expect."""
        if self.assumed is not None:
            return self.assumed
        through, lost = self.posterior
        return through / (through + lost)

    def interval(self) -> tuple[float, float]:
        """The middle 95 % of what the yield may be."""
        if self.assumed is not None:
            return self.assumed, self.assumed
        through, lost = self.posterior
        return float(beta.ppf(0.025, through, lost)), float(beta.ppf(0.975, through, lost))


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """How many to start, and how sure that is."""

    needed: int
    """Good parts wanted beyond those finished already."""
    start: int
    chance: float
    """Of at least `needed` good ones, with so many started."""
    from_work: float
    """Good parts to expect of those in work."""
    through: float
    """The yield to expect of a new part, over the whole route."""
    plain: int
    """What dividing by the yield would start."""
    plain_chance: float
    ladder: tuple[tuple[float, int, float], ...]
    """How sure, how many to start for it, and the chance with so many; ascending."""


class NotReached(Exception):
    """So many starts would be needed that none are worth planning."""


def draw_yields(known: Sequence[Evidence], seed: int = 1, draws: int = DRAWS) -> Floats:
    """Yields of the steps in the order of the route, shape (draws, steps)."""
    if not known:
        return np.ones((draws, 0))
    even = qmc.Sobol(len(known), rng=seed).random(draws)
    columns = [
        np.full(draws, one.assumed)
        if one.assumed is not None
        else beta.ppf(even[:, place], *one.posterior)
        for place, one in enumerate(known)
    ]
    return np.column_stack(columns)


def to_the_end(yields: Floats) -> Floats:
    """The chance to come through from each step on, shape (draws, steps + 1)."""
    ahead = np.cumprod(yields[:, ::-1], axis=1)[:, ::-1]
    return np.column_stack([ahead, np.ones(len(yields))])


def from_work(ahead: Floats, work: Sequence[int]) -> Floats:
    """How many of the parts in work come through: probabilities of 0, 1 … of them, by draw.

    `work` is the number of parts at each step. Sums of binomials, by their transforms.
    """
    total = sum(work)
    spectrum = np.ones((len(ahead), (total + 1) // 2 + 1), dtype=np.complex128)
    for place, parts in enumerate(work):
        if parts:
            some = binom.pmf(np.arange(parts + 1), parts, ahead[:, place, None])
            spectrum *= np.fft.rfft(some, n=total + 1, axis=1)
    return np.clip(np.fft.irfft(spectrum, n=total + 1, axis=1), 0.0, 1.0)


def chance_of(needed: int, start: int, ahead: Floats, working: Floats) -> float:
    """The chance of at least `needed` good parts from those in work and `start` new ones."""
    likely = np.flatnonzero(working.max(axis=0) > NEVER)
    short = needed - likely[None, :]
    within = np.clip(short, 1, max(start, 1))
    # P(X >= k) of a binomial is the regularised incomplete beta function.
    enough = betainc(within, np.maximum(start - within + 1, 1), ahead[:, :1])
    enough = np.where(short <= 0, 1.0, np.where(short > start, 0.0, enough))
    return float(np.minimum(1.0, (working[:, likely] * enough).sum(axis=1)).mean())


def how_many(
    needed: int, sure: float, known: Sequence[Evidence], work: Sequence[int], seed: int = 1
) -> Answer:
    """The smallest number of starts that gives `needed` good parts so surely.

    `known` and `work` (parts in work that may count) go by the steps of the route. Raises
    NotReached where more than MOST would be needed.
    """
    ahead = to_the_end(draw_yields(known, seed))
    working = from_work(ahead, work)

    @cache
    def chance(start: int) -> float:
        return chance_of(needed, start, ahead, working)

    start = _least(chance, sure)
    through = float(ahead[:, 0].mean())
    expected = float((ahead[:, : len(work)] * np.asarray(work)).sum(axis=1).mean())
    plain = max(0, ceil(round((needed - expected) / through, 9)))
    return Answer(
        needed=needed,
        start=start,
        chance=chance(start),
        from_work=expected,
        through=through,
        plain=plain,
        plain_chance=chance(plain),
        ladder=tuple(
            (one, least, chance(least))
            for one in sorted({0.5, 0.8, 0.9, 0.95, sure})
            for least in (_least(chance, one),)
        ),
    )


def _least(chance: Callable[[int], float], sure: float) -> int:
    """The smallest number whose chance is at least that; the chance rises with the number."""
    if chance(0) >= sure:
        return 0
    low, high = 0, 1
    while chance(high) < sure:
        low, high = high, high * 2
        if high > MOST:
            raise NotReached
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if chance(middle) >= sure else (middle, high)
    return high

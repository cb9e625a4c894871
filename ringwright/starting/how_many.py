"""How many parts to start so that enough come out good, as surely as is asked.

With a yield that is known the number of starts until the k-th good part follows the negative
binomial law. A yield learned from the record is not known: given s good of n, it is Beta
(s + 1/2, n - s + 1/2) (Jeffreys' prior), and the good ones among the starts of one yield are
beta-binomial. Yields of several steps are independent: the first two moments of their product
give the Beta that stands for the whole route (exact for one step).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from math import ceil
from typing import Final

from scipy.stats import beta, betabinom, binom, nbinom

MOST_STARTS: Final = 100_000
JEFFREYS: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Yield:
    """How a share of parts comes through: a Beta, or a figure taken as known."""

    mean: float
    a: float | None = None
    b: float | None = None

    @property
    def known(self) -> bool:
        """True for a figure that carries no uncertainty, such as one typed in."""
        return self.a is None

    def interval(self, share: float = 0.95) -> tuple[float, float]:
        """Its central interval; a known figure is its own."""
        if self.a is None or self.b is None:
            return self.mean, self.mean
        law = beta(self.a, self.b)
        return float(law.ppf((1 - share) / 2)), float(law.ppf((1 + share) / 2))

    def enough(self, starts: int, needed: int) -> float:
        """Probability that so many starts give the good parts needed."""
        if needed <= 0:
            return 1.0
        if self.a is None or self.b is None:
            return float(binom.sf(needed - 1, starts, self.mean))
        return float(betabinom.sf(needed - 1, starts, self.a, self.b))


def known_yield(value: float) -> Yield:
    """A yield taken as it is. Raises ValueError outside 0 < value <= 1."""
    if not 0 < value <= 1:
        raise ValueError("a yield is more than 0 and at most 1")
    return Yield(mean=value)


def learned_yield(good: int, tried: int) -> Yield:
    """The yield that a record of good ones among those tried tells of."""
    if not 0 <= good <= tried:
        raise ValueError("no more are good than were tried")
    a, b = good + JEFFREYS, tried - good + JEFFREYS
    return Yield(mean=a / (a + b), a=a, b=b)


def through(steps: Sequence[Yield]) -> Yield:
    """The yield of one step after the other, each learned by itself.

    First and second moments of independent factors multiply exactly; the Beta that has them
    both stands for the product.
    """
    mean = reduce(lambda found, one: found * one.mean, steps, 1.0)
    second = reduce(lambda found, one: found * _second(one), steps, 1.0)
    variance = second - mean * mean
    if variance <= 1e-15:
        return Yield(mean=mean)
    size = mean * (1 - mean) / variance - 1
    return Yield(mean=mean, a=mean * size, b=(1 - mean) * size)


def _second(one: Yield) -> float:
    if one.a is None or one.b is None:
        return one.mean**2
    size = one.a + one.b
    return one.mean**2 + one.mean * (1 - one.mean) / (size + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Starts:
    """How many to start, and how sure that and the plain ratio are."""

    starts: int
    sure: float
    plain: int
    """The good ones needed over the mean yield, rounded up."""
    plain_sure: float


def starts_for(needed: int, share: Yield, confidence: float) -> Starts:
    """The fewest starts that give the good parts needed with the confidence asked for.

    Raises ValueError for a confidence outside 0 to 1, or where no number of starts will do.
    """
    if not 0 < confidence < 1:
        raise ValueError("how sure is more than 0 and less than 100 %")
    if needed <= 0:
        return Starts(starts=0, sure=1.0, plain=0, plain_sure=1.0)
    plain = ceil(needed / share.mean - 1e-9)
    starts = _fewest(needed, share, confidence)
    return Starts(
        starts=starts,
        sure=share.enough(starts, needed),
        plain=plain,
        plain_sure=share.enough(plain, needed),
    )


def _fewest(needed: int, share: Yield, confidence: float) -> int:
    if share.known:
        return needed + int(nbinom.ppf(confidence, needed, share.mean))
    low, high = needed - 1, needed
    while share.enough(high, needed) < confidence:
        low, high = high, high * 2
        if high > MOST_STARTS:
            raise ValueError("no number of starts makes that sure; the yield is too uncertain")
    while high - low > 1:
        middle = (low + high) // 2
        if share.enough(middle, needed) < confidence:
            low = middle
        else:
            high = middle
    return high

"""Shares with what may be said of them: Wilson's interval, p-chart limits, small numbers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import prod, sqrt
from typing import Final

from ringwright.core.proportion import wilson

SMALL_N: Final = 20
"""Below so many parts, or loads, no word about a change is said."""
SIGMAS: Final = 3.0
"""Limits of a p-chart (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A proportion, its Wilson 95 % interval, its n; nulls when n is 0.

    Where parts share a fate `loads` is how many loads they came in: the value is the share of
    parts, the interval that of so many loads.
    """

    value: float | None
    low: float | None
    high: float | None
    n: int
    loads: int | None = None

    @property
    def counted(self) -> int:
        """What the interval rests on: loads, or parts."""
        return self.n if self.loads is None else self.loads

    @property
    def small(self) -> bool:
        """True when there is something, and too little of it to speak of a change."""
        return 0 < self.counted < SMALL_N


NO_SHARE: Final = Share(value=None, low=None, high=None, n=0)


def share(part: int, n: int, loads: int | None = None) -> Share:
    """part over n; by loads where their number is given."""
    if n == 0:
        return Share(value=None, low=None, high=None, n=0, loads=loads)
    value = part / n
    counted = n if loads is None else loads
    low, high = wilson(value * loads if loads is not None else part, counted)
    return Share(value=value, low=low, high=high, n=n, loads=loads)


def rolled(values: Iterable[float | None]) -> float | None:
    """The product of the yields that are there; None when none is."""
    known = [value for value in values if value is not None]
    return prod(known) if known else None


def limits(centre: float, n: int) -> tuple[float, float]:
    """Limits of a p-chart at a point of n: centre plus and minus three standard errors.

    A share lies between 0 and 1, and so do its limits.
    """
    reach = SIGMAS * sqrt(centre * (1 - centre) / n)
    return max(0.0, centre - reach), min(1.0, centre + reach)


def has_limits(centre: float | None) -> bool:
    """True where limits can be worked out: some passed and some did not.

    Round 0 or 1 the standard error is 0, and one part more would be called a change.
    """
    return centre is not None and 0.0 < centre < 1.0


LOWER, HIGHER, AS_BEFORE, SMALL, NO_LIMITS, UNKNOWN = (
    "lower", "higher", "as before", "small n", "no limits", "nothing to compare with",
)  # fmt: skip


def compared(now: Share, before: Share) -> str:
    """How a share stands to the one before it by the rule of the p-chart."""
    if now.value is None or before.value is None:
        return UNKNOWN
    if now.small or before.small:
        return SMALL
    if not has_limits(before.value):
        return AS_BEFORE if now.value == before.value else NO_LIMITS
    low, high = limits(before.value, now.counted)
    if now.value < low:
        return LOWER
    return HIGHER if now.value > high else AS_BEFORE

"""A mass as a scale gives it, and sums of masses with what they are worth."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

COVERAGE: Final = 2.0
"""Factor k of an expanded uncertainty: about 95 % of a normal distribution (GUM 6.3.3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mass:
    """A mass and its standard uncertainty."""

    kg: float
    u_kg: float = 0.0

    def __add__(self, other: Mass) -> Mass:
        return Mass(kg=self.kg + other.kg, u_kg=math.hypot(self.u_kg, other.u_kg))

    def __sub__(self, other: Mass) -> Mass:
        return Mass(kg=self.kg - other.kg, u_kg=math.hypot(self.u_kg, other.u_kg))

    @property
    def expanded_kg(self) -> float:
        """Half the width of the interval that is shown: k = 2."""
        return COVERAGE * self.u_kg


NONE: Final = Mass(kg=0.0)


def total(masses: Iterable[Mass]) -> Mass:
    """The sum of masses that were weighed each by itself."""
    given = list(masses)
    return Mass(
        kg=math.fsum(one.kg for one in given),
        u_kg=math.sqrt(math.fsum(one.u_kg**2 for one in given)),
    )


def net(full: Mass, tare: Mass) -> Mass:
    """What lies in a container weighed full, less the container."""
    return full - tare


def rounding_u(decimals: int) -> float:
    """Standard uncertainty of a figure known only to its last digit (GUM 4.3.7)."""
    return float(10.0**-decimals / math.sqrt(12.0))

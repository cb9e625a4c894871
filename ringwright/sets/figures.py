"""How figures of a set are written: no digit below their uncertainty. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from ringwright.kit.numbers import GAP, Figures
from ringwright.kit.words import Words

G_MM = f"{GAP}g·mm"
HZ = f"{GAP}Hz"


def step_of(u_g_mm: float | None) -> float | None:
    """The last digit worth showing beside an uncertainty, which is given to two digits.

    JCGM 100:2008 (GUM), 7.2.6: two significant digits of an uncertainty suffice, and the
    estimate is rounded to be consistent with it. None where nothing is known.
    """
    if u_g_mm is None or not math.isfinite(u_g_mm) or u_g_mm <= 0:
        return None
    return float(10.0 ** (math.floor(math.log10(u_g_mm)) - 1))


def to_step(value: float, step: float, show: Figures) -> str:
    """A figure rounded to its last digit worth showing."""
    places = max(0, -round(math.log10(step)))
    return show.decimal(round(value / step) * step, places)


@dataclass(frozen=True, slots=True)
class Manner:
    """How the figures of one set are written."""

    words: Words
    show: Figures
    places: int
    """Decimals of its moments."""
    u95_g_mm: float | None
    """Uncertainty of its residual; None: not known."""

    def moment(self, value_g_mm: float) -> str:
        """A moment or a difference of two."""
        return self.show.decimal(value_g_mm, self.places)

    def residual(self, value_g_mm: float) -> str:
        """A residual as it may be told: "under 100" where it is less than its last digit.

        Without an uncertainty no digit is told that the moments themselves do not have.
        """
        step = step_of(self.u95_g_mm) or 10.0**-self.places
        if value_g_mm < step:
            return self.words._("under %(figure)s", figure=to_step(step, step, self.show))
        return to_step(value_g_mm, step, self.show)


def plus_minus(u95_g_mm: float | None, show: Figures) -> str:
    """The 95 % uncertainty behind its sign; empty where it is not known."""
    step = step_of(u95_g_mm)
    if step is None or u95_g_mm is None:
        return ""
    return f"±{GAP}{to_step(u95_g_mm, step, show)}"


def moment_places(moments_g_mm: Iterable[float]) -> int:
    """Decimals of moments: none where they have four figures before the point."""
    largest = max((abs(value) for value in moments_g_mm), default=0.0)
    if largest >= 1000 or largest == 0:
        return 0
    return 1 if largest >= 100 else 2 if largest >= 10 else 3


def three_digits(value: float, show: Figures) -> str:
    """A figure as somebody entered it: at most three digits, none that says nothing."""
    return show.decimal(value, max(0, -_last_digit(float(f"{value:.3g}"))))


def _last_digit(value: float) -> int:
    """Power of ten of the last digit that is not nought."""
    exponent = Decimal(repr(value)).normalize().as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0

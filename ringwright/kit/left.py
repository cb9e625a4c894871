"""The time left until a deadline, as a page shows it and its script runs it down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.instants import HOUR_US

MINUTE_US: Final = HOUR_US // 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """A deadline, and the time left until it when the page was drawn [us]; negative: over."""

    until_us: int
    left_us: int
    over: str = ""
    """The word that stands there once it is over."""

    @property
    def until_ms(self) -> int:
        """The deadline as browsers count time [ms]."""
        return self.until_us // 1000

    @property
    def is_over(self) -> bool:
        """True after the deadline, which itself is inside."""
        return self.left_us < 0

    @property
    def hours(self) -> int:
        """Whole hours left."""
        return max(0, self.left_us) // HOUR_US

    @property
    def minutes(self) -> int:
        """Whole minutes left beside the hours."""
        return max(0, self.left_us) % HOUR_US // MINUTE_US

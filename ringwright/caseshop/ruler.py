"""A machine's week on a ruler: instants in, per cent of the width out. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.core.calendar import Interval
from ringwright.kit.charts import Scale
from ringwright.machines.rules import Span

LEAST: Final = 0.25
"""Nothing is drawn narrower than this [%]."""
LETTER: Final = 1.0
"""A letter's width [%] in a picture about as wide as a desk's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A case on the machine, or one that comes."""

    label: str
    x: float
    width: float
    enters: bool
    """True where it was on before the week began."""
    stays: bool
    """True where it is on beyond what is drawn."""
    named: bool = True
    held: bool = False
    """True for one that comes and is locked."""

    @property
    def middle(self) -> float:
        """Where its name stands."""
        return round(self.x + self.width / 2, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What the spindle did for a while."""

    state: str
    x: float
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """One machine's week."""

    boxes: tuple[Box, ...]
    marks: tuple[Mark, ...]
    coming: tuple[Box, ...]
    working: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """Something with a name and two ends, to be drawn."""

    label: str
    begin_us: int
    end_us: int
    stays: bool = False
    held: bool = False


@dataclass(frozen=True, slots=True)
class Week:
    """What a ruler is drawn within."""

    start_us: int
    end_us: int

    def ruler(
        self,
        on: Sequence[Placing],
        spans: Sequence[Span],
        coming: Sequence[Placing],
        working: Sequence[Interval],
    ) -> Ruler:
        """One machine's ruler; a name stands where there is room for it."""
        across = Scale(self.start_us, self.end_us, 0.0, 100.0)
        marks = [
            Mark(state=one.state, x=x, width=width)
            for one in spans
            for x, width in [self._place(across, one.begin_us, one.end_us)]
        ]
        return Ruler(
            boxes=tuple(self._box(across, one) for one in on if self._shows(one)),
            marks=tuple(marks),
            coming=tuple(self._box(across, one) for one in coming if self._shows(one)),
            working=tuple((across(begin), across(end)) for begin, end in working),
        )

    def _shows(self, one: Placing) -> bool:
        return one.begin_us < self.end_us and one.end_us > self.start_us

    def _place(self, across: Scale, begin_us: int, end_us: int) -> tuple[float, float]:
        x = across(max(begin_us, self.start_us))
        width = max(round(across(min(end_us, self.end_us)) - x, 2), LEAST)
        return min(x, round(100.0 - width, 2)), width

    def _box(self, across: Scale, one: Placing) -> Box:
        x, width = self._place(across, one.begin_us, one.end_us)
        return Box(
            label=one.label, x=x, width=width, enters=one.begin_us < self.start_us,
            stays=one.stays or one.end_us > self.end_us, held=one.held,
            named=len(one.label) * LETTER < width,
        )  # fmt: skip

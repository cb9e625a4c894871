"""A machine's own clock, which stands while nobody is there.

A case stays on over a closed night or weekend, so an operation is a span of working ticks. The
clock by the wall is those ticks with the closed hours put between.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate, pairwise
from typing import Final

from ringwright.jobshop.shop import Machine

NO_END: Final = 1 << 40
"""Later than any plan."""


@dataclass(frozen=True)
class Clock:
    """Working ticks of one machine against the clock by the wall."""

    open: tuple[tuple[int, int], ...]

    @cached_property
    def _before(self) -> list[int]:
        """Working ticks before each span, and in all."""
        lengths = (end - begin for begin, end in self.open)
        return [0, *accumulate(lengths)]

    @property
    def length(self) -> int:
        """All its working ticks."""
        return self._before[-1]

    @cached_property
    def gaps(self) -> list[tuple[int, int]]:
        """Working ticks before a closed time, and how long that lasts by the wall."""
        first = [(0, self.open[0][0])] if self.open and self.open[0][0] else []
        rest = [
            (self._before[place + 1], later[0] - earlier[1])
            for place, (earlier, later) in enumerate(pairwise(self.open))
        ]
        return first + rest

    def begin(self, work: int) -> int:
        """When the working tick of that number begins, by the wall."""
        if work >= self.length:
            return NO_END
        place = bisect_right(self._before, work) - 1
        return self.open[place][0] + work - self._before[place]

    def end(self, work: int) -> int:
        """When so many working ticks are over, by the wall: before a closed time, not after."""
        if work > self.length:
            return NO_END
        if work <= 0:
            return self.begin(0)
        place = bisect_left(self._before, work) - 1
        return self.open[place][0] + work - self._before[place]

    def work(self, wall: int) -> int:
        """Working ticks gone at that moment by the wall."""
        place = bisect_right(self.open, wall, key=lambda span: span[0]) - 1
        if place < 0:
            return 0
        begin, end = self.open[place]
        return self._before[place] + min(wall, end) - begin

    def is_open(self, wall: int) -> bool:
        """True while the machine is manned."""
        place = bisect_right(self.open, wall, key=lambda span: span[0]) - 1
        return place >= 0 and wall < self.open[place][1]


def clock_of(machine: Machine) -> Clock:
    """The machine's clock; spans that touch are one."""
    spans: list[tuple[int, int]] = []
    for begin, end in machine.open or ((0, NO_END),):
        begin = max(begin, 0)
        if end <= begin:
            continue
        if spans and spans[-1][1] >= begin:
            spans[-1] = (spans[-1][0], max(end, spans[-1][1]))
        else:
            spans.append((begin, end))
    return Clock(tuple(spans))

"""Where the hours of a station went, and how long a queue was over a span of time.

Spans are half open, microseconds UTC; a list of them is ascending and disjoint once merged.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

Span = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Working time of a station, told apart [us]; what is outside the calendar is in none."""

    in_use_us: int = 0
    shut_us: int = 0
    passed_by_us: int = 0
    """Idle though parts waited."""
    starved_us: int = 0
    """Idle, and nothing waited."""

    @property
    def working_us(self) -> int:
        """All working time; the four parts of it, to the microsecond."""
        return self.in_use_us + self.shut_us + self.passed_by_us + self.starved_us

    @property
    def use(self) -> float | None:
        """Share of the working time in use; None where none was worked.

        ISO 22400-2 has it as allocation efficiency: actual unit busy time over planned
        busy time.
        """
        return self.in_use_us / self.working_us if self.working_us else None

    def __add__(self, other: Hours) -> Hours:
        return Hours(
            in_use_us=self.in_use_us + other.in_use_us,
            shut_us=self.shut_us + other.shut_us,
            passed_by_us=self.passed_by_us + other.passed_by_us,
            starved_us=self.starved_us + other.starved_us,
        )


def hours_of(
    working: Sequence[Span],
    used: Iterable[Span],
    shut: Iterable[Span],
    waiting: Iterable[Span],
) -> Hours:
    """The working time of one station: in use, else shut, else by whether parts waited."""
    in_use = merged(used)
    idle = without(working, in_use)
    closed = merged(shut)
    open_idle = without(idle, closed)
    starved = without(open_idle, merged(waiting))
    return Hours(
        in_use_us=length(working) - length(idle),
        shut_us=length(idle) - length(open_idle),
        passed_by_us=length(open_idle) - length(starved),
        starved_us=length(starved),
    )


def merged(spans: Iterable[Span]) -> tuple[Span, ...]:
    """The same time as ascending spans that do not touch."""
    found: list[Span] = []
    for begin, end in sorted(span for span in spans if span[0] < span[1]):
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((begin, end))
    return tuple(found)


def without(spans: Sequence[Span], taken: Sequence[Span]) -> tuple[Span, ...]:
    """What is left of merged spans once other merged spans are taken out."""
    found: list[Span] = []
    first = 0
    for begin, end in spans:
        while first < len(taken) and taken[first][1] <= begin:
            first += 1
        at, place = begin, first
        while place < len(taken) and taken[place][0] < end:
            if taken[place][0] > at:
                found.append((at, taken[place][0]))
            at = max(at, taken[place][1])
            place += 1
        if at < end:
            found.append((at, end))
    return tuple(found)


def length(spans: Iterable[Span]) -> int:
    """Time in disjoint spans [us]."""
    return sum(end - begin for begin, end in spans)


def mean_number(stays: Iterable[Span], start_us: int, end_us: int) -> float:
    """Things there on the mean over a span, each weighed by how long it was there."""
    if start_us >= end_us:
        raise ValueError("a mean over time needs a span of time")
    there = sum(
        max(0, min(leave, end_us) - max(come, start_us)) for come, leave in stays
    )  # fmt: skip
    return there / (end_us - start_us)

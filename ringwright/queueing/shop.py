"""A shop as station groups and stages, its hours, and the parts that stand in it now.

Time is in hours from now. A stage is one step of one product; a lane is what waits together:
stages of a group that are worked one by one share a lane, one worked in loads has its own.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import inf
from typing import Final

RELEASED: Final = -1
"""Where a part goes after its last step."""
GONE: Final = -2
"""Where scrapped and used parts are."""
ENDLESS: Final = 10**9
"""Servers of a group that has no station: nothing waits there for want of one."""
Spans = tuple[tuple[float, float], ...]


class Clock:
    """When a group works: ascending, disjoint spans [h from now]."""

    __slots__ = ("begins", "ends", "spans")

    def __init__(self, spans: Spans) -> None:
        self.spans = spans
        self.begins = [begin for begin, _ in spans]
        self.ends = [end for _, end in spans]

    def next_open(self, at_h: float) -> float:
        """The first instant from this one on at which the group works; inf: never again."""
        place = bisect_right(self.ends, at_h)
        return max(at_h, self.begins[place]) if place < len(self.begins) else inf

    def finish(self, at_h: float, work_h: float) -> float:
        """When so much work begun then is done; inf: not within these spans."""
        place = bisect_right(self.ends, at_h)
        for begin, end in self.spans[place:]:
            since = max(at_h, begin)
            if since + work_h <= end:
                return since + work_h
            work_h -= end - since
        return inf

    def worked(self, from_h: float, to_h: float) -> float:
        """Hours worked between two instants."""
        return sum(max(0.0, min(b, to_h) - max(a, from_h)) for a, b in self.spans)

    def closed(self, to_h: float) -> Spans:
        """When it does not work, from now until an instant."""
        edges = [0.0, *(edge for span in self.spans for edge in span), to_h]
        pairs = zip(edges[::2], edges[1::2], strict=True)
        return tuple(
            (max(a, 0.0), min(b, to_h)) for a, b in pairs if max(a, 0.0) < min(b, to_h)
        )

    def with_more(self, more: Spans) -> Clock:
        """The same with working time added where it was closed."""
        joined: list[tuple[float, float]] = []
        for begin, end in sorted((*self.spans, *more)):
            if joined and begin <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
            else:
                joined.append((begin, end))
        return Clock(tuple(joined))


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A station group: how many it works on at once, loads or parts, and when."""

    code: str
    servers: int
    clock: Clock
    round_the_clock: bool = False
    """True where it works for a day on end about now: nothing can be added but beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """How a stage is worked in loads."""

    usual: int
    """As many parts as wait before one is begun."""
    most: int
    patience_h: float
    """After this wait a load begins with what is there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One step of one product: where, how long, and where its visits went."""

    product: str
    number: int
    group: int
    work_h: tuple[float, ...]
    """Hours of past visits, ascending; of loads by the clock, else hours that were worked."""
    onward: tuple[tuple[int, float], ...]
    """Stage, or RELEASED or GONE, and how many visits went there."""
    load: Load | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A part that may move: it waits before a stage or is in work there."""

    stage: int
    since_h: float
    """Since when it stands there so, before now: 0 or less."""
    in_work: bool = False
    age_h: float = 0.0
    """How long its work has lasted, in the hours of its stage."""
    raised: int = 0
    load: str = ""
    """Parts in work with the same one are one load."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """A part not created yet: when it comes, and before which stage."""

    stage: int
    at_h: float


@dataclass(frozen=True, kw_only=True)
class Shop:
    """Everything that a run of the rest of the week starts from."""

    groups: tuple[Group, ...]
    stages: tuple[Stage, ...]
    parts: tuple[Standing, ...]
    weeks: tuple[tuple[Coming, ...], ...] = ()
    """What came in the same stretch of past weeks, each as likely to come again."""
    end_h: float

    @cached_property
    def lane_of(self) -> tuple[int, ...]:
        """Of each stage its lane: that of its group, or its own behind those."""
        own = iter(range(len(self.groups), len(self.groups) + len(self.stages)))
        return tuple(next(own) if one.load else one.group for one in self.stages)

    @cached_property
    def lanes(self) -> tuple[tuple[int, ...], ...]:
        """Of each group its lanes."""
        found: list[dict[int, None]] = [{place: None} for place in range(len(self.groups))]
        for stage, lane in zip(self.stages, self.lane_of, strict=True):
            found[stage.group][lane] = None
        return tuple(map(tuple, found))

    @cached_property
    def loads(self) -> dict[int, Load]:
        """Lane to how it is worked in loads."""
        pairs = zip(self.lane_of, self.stages, strict=True)
        return {lane: stage.load for lane, stage in pairs if stage.load}

    @cached_property
    def after(self) -> tuple[frozenset[int], ...]:
        """Of each group, itself and all that its parts may come to later, by groups.

        Nothing outside can be touched by what happens in it.
        """
        follows: list[set[int]] = [{place} for place in range(len(self.groups))]
        for stage in self.stages:
            to = (self.stages[k].group for k, count in stage.onward if k >= 0 and count > 0)
            follows[stage.group].update(to)
        return tuple(frozenset(_reached(follows, place)) for place in range(len(self.groups)))


def _reached(follows: Sequence[set[int]], place: int) -> set[int]:
    found, ahead = {place}, [place]
    while ahead:
        for one in follows[ahead.pop()] - found:
            found.add(one)
            ahead.append(one)
    return found

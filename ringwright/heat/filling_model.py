"""The filling of furnaces as a linear model in whole numbers.

An option is one recipe on one furnace from one moment on. A best plan needs few moments: a run
begins when its furnace falls free or when the last of its parts is ready, for it could begin
earlier otherwise and nothing would be lost. Parts that differ in nothing that matters are a
group, and the model counts how many of a group go into an option. The moments are fixed, so
that windows and times are exact and the model has no large constants.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.sparse import coo_array, csr_array

from ringwright.heat.loads import FreeSlot, WaitingPart
from ringwright.heat.trace import Floats

MOST_PAIRS: Final = 12_000
"""Groups and options that go together; with more the moments are coarsened."""
COARSENED_MIN: Final = (0, 15, 30, 60, 120, 240, 480)
_MINUTE_US: Final = 60_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A run that may be: whether it is and who is in it is to be found."""

    furnace: int
    """Place of the furnace among those given."""
    recipe: str
    begin_us: int
    end_us: int
    capacity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Parts that may stand for each other, in the order of the queue."""

    parts: tuple[WaitingPart, ...]
    recipes: frozenset[str]
    ready_us: int
    deadline_us: int | None
    priority: int
    at_stake: bool
    """A window that runs out before any run beyond the horizon can begin."""

    def fits(self, option: Option) -> bool:
        """True where its parts may go into that run."""
        in_time = self.deadline_us is None or option.begin_us <= self.deadline_us
        return option.recipe in self.recipes and self.ready_us <= option.begin_us and in_time


@dataclass(frozen=True, kw_only=True)
class Model:
    """Variables: for each option whether it is run; for each pair how many of the group go in.

    `rows @ variables <= most`, variables whole, from 0 to `upper`.
    """

    options: tuple[Option, ...]
    groups: tuple[Group, ...]
    pairs: tuple[tuple[int, int], ...]
    """(group, option) that go together."""
    rows: csr_array
    most: Floats
    upper: Floats
    coarsened: bool

    def placed(self, which: Sequence[bool]) -> Floats:
        """What a variable adds to the number of parts of those groups in a run."""
        return self._of_pairs(which, lambda _: 1.0)

    def begins(self, which: Sequence[bool]) -> Floats:
        """What a variable adds to the sum of minutes until parts of those groups go in."""
        since = min((one.begin_us for one in self.options), default=0)
        return self._of_pairs(which, lambda option: (option.begin_us - since) / _MINUTE_US)

    def capacities(self) -> Floats:
        """What a variable adds to the places of the runs."""
        found = np.zeros(self.upper.size)
        found[: len(self.options)] = [one.capacity for one in self.options]
        return found

    def _of_pairs(self, which: Sequence[bool], worth: Callable[[Option], float]) -> Floats:
        found = np.zeros(self.upper.size)
        for place, (group, option) in enumerate(self.pairs, start=len(self.options)):
            if which[group]:
                found[place] = worth(self.options[option])
        return found

    def loads(self, variables: Floats) -> list[tuple[Option, tuple[WaitingPart, ...]]]:
        """The runs with parts in them, by their beginning; of a group the first go first."""
        inside: dict[int, list[WaitingPart]] = defaultdict(list)
        taken = [0] * len(self.groups)
        numbered = zip(self.pairs, variables[len(self.options) :], strict=True)
        early = sorted(numbered, key=lambda one: (self.options[one[0][1]].begin_us, one[0]))
        for (group, option), number in early:
            begin = taken[group]
            taken[group] += round(float(number))
            inside[option] += self.groups[group].parts[begin : taken[group]]
        return [(self.options[one], tuple(load)) for one, load in inside.items() if load]


def model_of(
    furnaces: Sequence[FreeSlot], parts: Sequence[WaitingPart], runs_each: int
) -> Model:
    """The model of the next runs; moments are coarsened where there would be too many."""
    for coarse_min in COARSENED_MIN:
        coarse = [_ready_later(one, furnaces, coarse_min) for one in parts]
        groups = _groups(furnaces, coarse, runs_each)
        options = _options(furnaces, groups, runs_each)
        pairs = [
            (group, option)
            for group, one in enumerate(groups)
            for option, run in enumerate(options)
            if one.fits(run)
        ]
        if len(pairs) <= MOST_PAIRS:
            break
    rows, most = _rows(furnaces, options, groups, pairs, runs_each)
    counts = [min(len(groups[g].parts), options[o].capacity) for g, o in pairs]
    return Model(
        options=tuple(options),
        groups=tuple(groups),
        pairs=tuple(pairs),
        rows=rows,
        most=most,
        upper=np.array([1.0] * len(options) + counts, dtype=np.float64),
        coarsened=coarse_min > 0,
    )


def _ready_later(
    part: WaitingPart, furnaces: Sequence[FreeSlot], coarse_min: int
) -> WaitingPart:
    """Ready when the first furnace falls free, or at the next coarse moment after that."""
    first = min((one.free_from_us for one in furnaces), default=0)
    late = max(part.ready_us - first, 0)
    grain = coarse_min * _MINUTE_US
    return replace(part, ready_us=first + (-(-late // grain) * grain if grain else late))


def _groups(
    furnaces: Sequence[FreeSlot], parts: Sequence[WaitingPart], runs_each: int
) -> list[Group]:
    found: dict[tuple[object, ...], list[WaitingPart]] = {}
    for part in parts:
        kind = (_recipes(furnaces, part), part.ready_us, part.deadline_us, part.priority)
        found.setdefault(kind, []).append(part)
    groups = []
    for alike in found.values():
        first = alike[0]
        beyond = _beyond(furnaces, first, runs_each)
        deadline = first.deadline_us
        groups.append(
            Group(
                parts=tuple(alike),
                recipes=_recipes(furnaces, first),
                ready_us=first.ready_us,
                deadline_us=deadline,
                priority=first.priority,
                at_stake=deadline is not None and (beyond is None or deadline < beyond),
            )
        )
    return groups


def _recipes(furnaces: Sequence[FreeSlot], part: WaitingPart) -> frozenset[str]:
    return frozenset(
        one.recipe
        for furnace in furnaces
        for one in furnace.recipes
        if any(use.product == part.product and use.step == part.step for use in one.uses)
    )


def _beyond(furnaces: Sequence[FreeSlot], part: WaitingPart, runs_each: int) -> int | None:
    """When an able furnace could begin a run beyond the horizon at the earliest."""
    able = _recipes(furnaces, part)
    moments = [
        furnace.free_from_us + runs_each * min(map(_length_us, lengths))
        for furnace in furnaces
        if (lengths := [one.minutes for one in furnace.recipes])
        and any(one.recipe in able for one in furnace.recipes)
    ]
    return min(moments, default=None)


def _length_us(minutes: float) -> int:
    return round(minutes * _MINUTE_US)


def _options(
    furnaces: Sequence[FreeSlot], groups: Sequence[Group], runs_each: int
) -> list[Option]:
    """Runs that some part may be in, from every moment at which a best plan may begin one."""
    found = []
    for place, furnace in enumerate(furnaces):
        readies = {one.ready_us for one in groups if one.recipes & _own(furnace)}
        for begin in sorted(_moments(furnace, readies, runs_each)):
            for one in sorted(furnace.recipes, key=lambda run: run.recipe):
                option = Option(
                    furnace=place,
                    recipe=one.recipe,
                    begin_us=begin,
                    end_us=begin + _length_us(one.minutes),
                    capacity=furnace.capacity,
                )
                if any(group.fits(option) for group in groups):
                    found.append(option)
    return found


def _own(furnace: FreeSlot) -> frozenset[str]:
    return frozenset(one.recipe for one in furnace.recipes)


def _moments(furnace: FreeSlot, readies: set[int], runs_each: int) -> set[int]:
    """When the furnace is free, when a part gets ready, and each run's length after those."""
    later = {one for one in readies if one > furnace.free_from_us}
    begins = {furnace.free_from_us} | later
    found = set(begins)
    lengths = {_length_us(one.minutes) for one in furnace.recipes}
    for _ in range(runs_each - 1):
        begins = {begin + length for begin in begins for length in lengths}
        found |= begins
    return found


def _rows(
    furnaces: Sequence[FreeSlot],
    options: Sequence[Option],
    groups: Sequence[Group],
    pairs: Sequence[tuple[int, int]],
    runs_each: int,
) -> tuple[csr_array, Floats]:
    """Places of a run, parts of a group, one run at a time on a furnace, and so many runs."""
    entries: list[tuple[int, int, float]] = []
    most: list[float] = []
    for option, run in enumerate(options):
        entries.append((option, option, -float(run.capacity)))
    most += [0.0] * len(options)
    for column, (group, option) in enumerate(pairs, start=len(options)):
        entries.append((option, column, 1.0))
        entries.append((len(options) + group, column, 1.0))
    most += [float(len(one.parts)) for one in groups]
    for furnace in range(len(furnaces)):
        mine = [place for place, one in enumerate(options) if one.furnace == furnace]
        limits = [(one, 1.0) for one in _overlapping(options, mine)] + [
            (mine, float(runs_each))
        ]
        for together, so_many in limits:
            entries += [(len(most), place, 1.0) for place in together]
            most.append(so_many)
    # A group of fewer than a load is in a run or not: what makes the relaxation tight.
    for column, (group, option) in enumerate(pairs, start=len(options)):
        if len(groups[group].parts) < options[option].capacity:
            count = float(len(groups[group].parts))
            entries += [(len(most), column, 1.0), (len(most), option, -count)]
            most.append(0.0)
    places = np.array([one[:2] for one in entries], dtype=np.intp).reshape(-1, 2).T
    values = np.array([one[2] for one in entries], dtype=np.float64)
    shape = (len(most), len(options) + len(pairs))
    return csr_array(coo_array((values, tuple(places)), shape=shape)), np.array(most)


def _overlapping(options: Sequence[Option], mine: Sequence[int]) -> list[list[int]]:
    """The runs under way at each beginning of one: of those at most one is."""
    begins = sorted({options[place].begin_us for place in mine})
    found: list[list[int]] = [[] for _ in begins]
    for place in mine:
        first = bisect_left(begins, options[place].begin_us)
        last = bisect_left(begins, options[place].end_us)
        for moment in range(first, last):
            found[moment].append(place)
    return found

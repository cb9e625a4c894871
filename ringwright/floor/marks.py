"""Which marks stand and hang at each step of the route line, and in which order.

A mark is one part. Where there are too many to be told apart a mark is ten of them, and the
page says so: then it stands as tall as the part in the middle of its ten.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.floor.model import FloorSheet, Standing
from ringwright.flow.loads import Load

MOST_MARKS: Final = 400
MOST_WAITING: Final = 45
MOST_IN_WORK: Final = 110
"""More marks than these at one step run into one another; solid ones later than open ones."""
SAME_HOUR_US: Final = 3_600_000_000
"""Windows that are over within the hour share a bracket."""
MOST_BRACKETS: Final = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One part, or ten: its height over plan, and what else is so about it."""

    ratio: float
    late: bool
    held: bool
    raised: bool
    sought: bool
    reserved: bool
    parts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Bracket:
    """Neighbouring marks that belong together: those from `first` to `last`."""

    first: int
    last: int
    parts: int
    deadline_us: int = 0
    load: Load | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """The marks of one step."""

    step: int
    waiting: tuple[Mark, ...]
    working: tuple[Mark, ...]
    windows: tuple[Bracket, ...]
    loads: tuple[Bracket, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """All steps; `every` is how many parts a mark is."""

    cells: tuple[Cell, ...]
    every: int


def marks_of(sheet: FloorSheet) -> Marks:
    """The marks of a product's floor."""
    at: dict[int, tuple[list[Standing], list[Standing]]]
    at = {step.number: ([], []) for step in sheet.steps}
    for part in sheet.parts:
        if part.step in at:
            at[part.step][part.in_work].append(part)
    every = _every([len(w) for w, _ in at.values()], [len(h) for _, h in at.values()])
    cells = [_cell(step, *both, sheet.loads, every) for step, both in at.items()]
    return Marks(cells=tuple(cells), every=every)


def _every(waiting: Sequence[int], in_work: Sequence[int]) -> int:
    """1, 10, 100 …: the fewest parts a mark must be so that marks can be told apart."""
    every = 1
    while (
        sum(waiting) + sum(in_work) > MOST_MARKS * every
        or max(waiting, default=0) > MOST_WAITING * every
        or max(in_work, default=0) > MOST_IN_WORK * every
    ):
        every *= 10
    return every


def _cell(
    step: int,
    waiting: list[Standing],
    working: list[Standing],
    loads: Sequence[Load],
    every: int,
) -> Cell:
    stand, windows = _row(_by_window(waiting), every)
    hang, brackets = _row(_by_load(working, loads), every)
    return Cell(
        step=step,
        waiting=stand,
        working=hang,
        windows=tuple(
            Bracket(first=a, last=b, parts=len(parts), deadline_us=_deadline(parts[0]))
            for a, b, parts in windows
        ),
        loads=tuple(
            Bracket(first=a, last=b, parts=len(parts), load=_load_of(parts[0], loads))
            for a, b, parts in brackets
        ),
    )


Groups = tuple[list[Standing], list[list[Standing]]]
"""Parts on their own, then groups under a bracket each."""


def _by_window(parts: list[Standing]) -> Groups:
    """Oldest first; those whose window still runs come behind, grouped by its end."""
    bare = [p for p in parts if p.window is None or p.window_over]
    inside = sorted((p for p in parts if p not in bare), key=_deadline)
    groups: list[list[Standing]] = []
    for part in inside:
        new = not groups or _deadline(part) - _deadline(groups[-1][0]) > SAME_HOUR_US
        if new and len(groups) < MOST_BRACKETS:
            groups.append([])
        groups[-1].append(part)
    return _ordered(bare), [sorted(group, key=_deadline) for group in groups]


def _by_load(parts: list[Standing], loads: Sequence[Load]) -> Groups:
    """Loads in the order they went in, then what is in work on its own, oldest first."""
    groups: dict[int, list[Standing]] = {}
    bare = []
    for part in _ordered(parts):
        load = _load_of(part, loads)
        if load is None:
            bare.append(part)
        else:
            groups.setdefault(id(load), []).append(part)
    return bare, list(groups.values())


def _load_of(part: Standing, loads: Sequence[Load]) -> Load | None:
    for load in loads:
        if load.step == part.step and part.serial in load.serials:
            return load
    return None


def _deadline(part: Standing) -> int:
    return part.window.deadline_us if part.window else 2**62


def _ordered(parts: list[Standing]) -> list[Standing]:
    return sorted(parts, key=lambda part: (-_height(part), part.since_us, part.serial))


def _height(part: Standing) -> float:
    """Time over plan; a part whose window is over rises at least as late as that."""
    if part.window is None or not part.window_over or not part.window.length_us:
        return part.ratio
    over_us = -(part.window_left_us or 0)
    return max(part.ratio, 1.0 + over_us / part.window.length_us)


def _row(
    groups: Groups, every: int
) -> tuple[tuple[Mark, ...], list[tuple[int, int, list[Standing]]]]:
    """The marks of a side, and from where to where each bracket runs."""
    bare, bracketed = groups
    marks = _marks(bare, every)
    found = []
    for group in bracketed:
        own = _marks(group, every)
        found.append((len(marks), len(marks) + len(own) - 1, group))
        marks += own
    return tuple(marks), found


def _marks(parts: list[Standing], every: int) -> list[Mark]:
    return [_mark(parts[k : k + every]) for k in range(0, len(parts), every)]


def _mark(parts: list[Standing]) -> Mark:
    def most(true: Callable[[Standing], bool]) -> bool:
        return 2 * sum(map(true, parts)) > len(parts)

    return Mark(
        ratio=_height(parts[len(parts) // 2]),
        late=most(lambda part: part.late),
        held=most(lambda part: part.hold is not None),
        raised=any(part.priority for part in parts),
        sought=any(part.sought for part in parts),
        reserved=most(lambda part: part.reservation is not None),
        parts=len(parts),
    )

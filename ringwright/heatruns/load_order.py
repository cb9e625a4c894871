"""Of equally good loads those in which the window that ends first goes in first. Pure.

Which of several like parts goes into which run decides nothing of how many windows are made or
how full the runs are. Whoever loads expects the most urgent in the next run, and is right: a
part left for later with more time in hand is the better one to leave when a furnace is late.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from ringwright.heat.loads import FreeSlot, Suggestion, WaitingPart
from ringwright.heat.recipe import Use

NEVER_US: Final = 2**62


def earliest_first(
    found: Suggestion, slots: Sequence[FreeSlot], parts: Sequence[WaitingPart]
) -> Suggestion:
    """The suggestion with like parts exchanged until no earlier window goes in later.

    Two parts are exchanged where both may go into either run and go equally first, so that no
    figure by which suggestions are compared changes. A part left out for want of a place is
    exchanged likewise, if the suggestion is proved best: then both windows are at stake.
    """
    by_serial = {one.serial: one for one in parts}
    uses = {
        (slot.furnace, one.recipe): frozenset(one.uses)
        for slot in slots
        for one in slot.recipes
    }
    runs = [
        _Load(run.begin_us, uses[run.furnace, run.recipe], [by_serial[n] for n in run.serials])
        for run in found.runs
    ]
    left = _Load(NEVER_US, None, [by_serial[one] for one in found.missed])
    later = [left] if found.proved else []
    pairs = [
        (one, other)
        for one in runs
        for other in (*runs, *later)
        if other.begin_us > one.begin_us
    ]
    # Each exchange puts an earlier window into an earlier run, so that this comes to an end.
    while any(_exchange(one, other) for one, other in pairs):
        pass
    return replace(
        found,
        missed=left.serials(),
        runs=tuple(
            replace(run, serials=load.serials())
            for run, load in zip(found.runs, runs, strict=True)
        ),
    )


def _first(part: WaitingPart) -> tuple[int, int, str]:
    """What goes first, then by the end of the window, then by serial."""
    return -part.priority, _until_us(part), part.serial


def _until_us(part: WaitingPart) -> int:
    return NEVER_US if part.deadline_us is None else part.deadline_us


@dataclass(slots=True)
class _Load:
    """A suggested run and what goes into it, or what is left without a place."""

    begin_us: int
    uses: frozenset[Use] | None
    """None: anything may be left."""
    parts: list[WaitingPart]

    def takes(self, part: WaitingPart) -> bool:
        """True where the part may go in, in time."""
        if self.uses is None:
            return True
        use = Use(product=part.product, step=part.step)
        return use in self.uses and part.ready_us <= self.begin_us <= _until_us(part)

    def serials(self) -> tuple[str, ...]:
        """In the order in which they go in."""
        return tuple(one.serial for one in sorted(self.parts, key=_first))


def _exchange(run: _Load, later: _Load) -> bool:
    """Exchange a part of a run for one of a later run that is more urgent, if there is one."""
    for priority in {one.priority for one in run.parts}:
        mine = [one for one in run.parts if one.priority == priority and later.takes(one)]
        theirs = [one for one in later.parts if one.priority == priority and run.takes(one)]
        if not mine or not theirs:
            continue
        last, first = max(mine, key=_first), min(theirs, key=_first)
        if _first(first) < _first(last):
            run.parts[run.parts.index(last)] = first
            later.parts[later.parts.index(first)] = last
            return True
    return False

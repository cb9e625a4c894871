"""A job shop as data. Times are whole ticks of one grid, from the moment of the plan on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Key = tuple[str, str]
"""Case and operation: what names one piece of work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One machining step of one case."""

    name: str
    spindle: int
    """Ticks of machine working time without the set-up."""
    machines: tuple[str, ...]
    """Which machines may do it, in the order they are preferred."""
    set_up: int = 0
    """Ticks of machine working time; left out where the machine stays on the same work."""
    work: str = ""
    """Product and step: two with the same word need no set-up between them. Empty: its own."""
    fixture: str = ""
    """The kind of fixture held from set-up to end; empty: none."""
    after: int = 0
    """Least ticks by the clock after the operation before: other steps, ways, cooling."""
    on: str = ""
    """The machine it is on already; `spindle` is then what is left of it, set-up and all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A part with its remaining machining operations, in route order."""

    serial: str
    operations: tuple[Operation, ...]
    release: int = 0
    """Before this it cannot go on a machine."""
    due: int | None = None
    """When its last operation should have ended; None: no promise."""
    weight: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine, and when it is manned."""

    code: str
    open: tuple[tuple[int, int], ...] = ()
    """Working spans, ascending and apart; empty: always, with no end."""
    set_for: str = ""
    """The work it is set up for now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """What the planner has fixed of an operation: its machine, its start, or both."""

    machine: str = ""
    start: int | None = None


@dataclass(frozen=True, kw_only=True)
class Shop:
    """Everything a plan is made from."""

    cases: tuple[Case, ...]
    machines: tuple[Machine, ...]
    fixtures: Mapping[str, int] = field(default_factory=dict)
    """How many there are of each kind; a kind not named is never short."""
    locks: Mapping[Key, Lock] = field(default_factory=dict)

    @property
    def machine(self) -> dict[str, Machine]:
        """Machines by code."""
        return {one.code: one for one in self.machines}

    @property
    def case(self) -> dict[str, Case]:
        """Cases by serial."""
        return {one.serial: one for one in self.cases}

    @property
    def operations(self) -> dict[Key, Operation]:
        """Every operation by case and name, in the order of cases and routes."""
        return {
            (case.serial, operation.name): operation
            for case in self.cases
            for operation in case.operations
        }

    def works(self, key: Key) -> str:
        """The word of its work; one without a word is like no other."""
        return self.operations[key].work or "/".join(key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """An operation on a machine: on at `start`, off at `end`, by the clock."""

    serial: str
    operation: str
    machine: str
    start: int
    end: int
    set_up: int = 0
    """Ticks of set-up within it."""
    locked: bool = False

    @property
    def key(self) -> Key:
        """Case and operation."""
        return self.serial, self.operation


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A placement for every operation, in order of start."""

    placements: tuple[Placement, ...]
    proved: bool = False
    """True where no other plan is better."""
    bound: int | None = None
    """No plan can have less weighted lateness than this; None: not looked for."""

    @property
    def by_key(self) -> dict[Key, Placement]:
        """Placements by case and operation."""
        return {one.key: one for one in self.placements}

    @property
    def ends(self) -> dict[str, int]:
        """When each case is off its last machine."""
        found: dict[str, int] = {}
        for one in self.placements:
            found[one.serial] = max(found.get(one.serial, 0), one.end)
        return found

    @property
    def makespan(self) -> int:
        """When the last case is off."""
        return max((one.end for one in self.placements), default=0)

    def on(self, machine: str) -> list[Placement]:
        """What one machine does, in order."""
        return [one for one in self.placements if one.machine == machine]


def lateness(shop: Shop, plan: Plan) -> dict[str, int]:
    """Ticks that each case is late, for those that are."""
    ends = plan.ends
    late = {
        case.serial: ends[case.serial] - case.due
        for case in shop.cases
        if case.due is not None and case.serial in ends
    }
    return {serial: ticks for serial, ticks in late.items() if ticks > 0}


def weighted_lateness(shop: Shop, plan: Plan) -> int:
    """What a plan is judged by first."""
    late = lateness(shop, plan)
    return sum(case.weight * late.get(case.serial, 0) for case in shop.cases)


def in_order(placements: list[Placement]) -> tuple[Placement, ...]:
    """As a plan holds them."""
    return tuple(sorted(placements, key=lambda one: (one.start, one.machine, one.end)))

"""Why a case is late: the hours it waits, and for what, step by step along its way."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Final

from ringwright.jobshop.clock import Clock, clock_of
from ringwright.jobshop.shop import Case, Key, Placement, Plan, Shop, lateness
from ringwright.jobshop.timing import by_due

BEHIND: Final = "behind"
CLOSED: Final = "closed"
FIXTURE: Final = "fixture"
LOCKED: Final = "locked"
ORDER: Final = "order"
OWN: Final = "own"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """Ticks that one case waits for one thing before one operation."""

    key: Key
    why: str
    ticks: int
    machine: str
    behind: str = ""
    """The case that has the machine or the fixture meanwhile."""
    fixture: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """A late case, and what made it late."""

    serial: str
    ticks: int
    alone: int
    """When it would be off with every machine free for it at once."""
    own: int
    """Ticks that it would be late even so; 0 where it would be in time."""
    waits: tuple[Wait, ...]
    """The longest first."""

    @property
    def first(self) -> str:
        """What weighs most: its own work, or its longest wait."""
        if self.own and (not self.waits or self.own >= self.waits[0].ticks):
            return OWN
        return self.waits[0].why if self.waits else OWN


def reasons(shop: Shop, plan: Plan) -> list[Late]:
    """What made each late case late, the latest first."""
    found = []
    for serial, ticks in lateness(shop, plan).items():
        case = shop.case[serial]
        alone = by_due(_alone(shop, case)).makespan
        waits = _waits(shop, plan, case)
        own = max(0, alone - (case.due or 0))
        found.append(Late(serial=serial, ticks=ticks, alone=alone, own=own, waits=waits))
    return sorted(found, key=lambda one: -one.ticks)


def _alone(shop: Shop, case: Case) -> Shop:
    return Shop(cases=(case,), machines=shop.machines)


def _waits(shop: Shop, plan: Plan, case: Case) -> tuple[Wait, ...]:
    placed, ready = plan.by_key, case.release
    counted: Counter[tuple[Key, str, str, str, str]] = Counter()
    for place, operation in enumerate(case.operations):
        one = placed[case.serial, operation.name]
        ready = ready if not place else ready + operation.after
        clock = clock_of(shop.machine[one.machine])
        for tick in range(0 if operation.on else ready, one.start):
            counted[_why(shop, plan, one, tick, clock)] += 1
        ready = one.end
    waits = [
        Wait(key=key, why=why, ticks=ticks, machine=machine, behind=behind, fixture=fixture)
        for (key, why, machine, behind, fixture), ticks in counted.items()
    ]
    return tuple(sorted(waits, key=lambda wait: (-wait.ticks, wait.key, wait.behind)))


def _why(
    shop: Shop, plan: Plan, one: Placement, tick: int, clock: Clock
) -> tuple[Key, str, str, str, str]:
    """What keeps the operation off its machine in that tick."""
    key, machine = one.key, one.machine
    there = [x for x in plan.placements if x.key != key and x.start <= tick < x.end]
    for other in there:
        if other.machine == machine:
            return key, BEHIND, machine, other.serial, ""
    if not clock.is_open(tick):
        return key, CLOSED, machine, "", ""
    fixture = shop.operations[key].fixture
    holders = [x.serial for x in there if shop.operations[x.key].fixture == fixture]
    if fixture in shop.fixtures and len(holders) >= shop.fixtures[fixture]:
        return key, FIXTURE, machine, holders[0], fixture
    lock = shop.locks.get(key)
    if lock is not None and lock.start is not None:
        return key, LOCKED, machine, "", ""
    return key, ORDER, machine, "", ""

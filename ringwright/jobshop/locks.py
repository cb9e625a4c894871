"""Locks that no plan can keep: which, why, and the smallest change that makes one possible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.jobshop.clock import clock_of
from ringwright.jobshop.shop import Key, Plan, Shop

WRONG_MACHINE: Final = "wrong machine"
NOT_THERE: Final = "case not there yet"
CLOSED: Final = "closed"
TAKEN: Final = "machine taken"
NO_FIXTURE: Final = "no fixture"
TOGETHER: Final = "with other locks"


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """One lock that cannot be kept."""

    key: Key
    why: str
    """One of the words above."""
    machine: str = ""
    behind: Key | None = None
    """What has the machine at that moment."""
    fixture: str = ""
    start: int | None = None
    """The nearest start that can be kept; None: any other machine of the operation."""


class Impossible(Exception):
    """No plan keeps every lock."""

    def __init__(self, conflicts: Sequence[Conflict]) -> None:
        super().__init__(f"{len(conflicts)} locks cannot be kept")
        self.conflicts = tuple(conflicts)


def check_single(shop: Shop) -> None:
    """Raises `Impossible` for locks on machines that may not do the operation."""
    operations = shop.operations
    wrong = [
        Conflict(key=key, why=WRONG_MACHINE, machine=lock.machine)
        for key, lock in shop.locks.items()
        if lock.machine and key in operations and lock.machine not in _may(shop, key)
    ]
    if wrong:
        raise Impossible(wrong)


def _may(shop: Shop, key: Key) -> set[str]:
    operation, there = shop.operations[key], {one.code for one in shop.machines}
    return {operation.on} if operation.on else set(operation.machines) & there


def conflict(shop: Shop, near: Plan, key: Key) -> Conflict:
    """Why the lock does not hold in the plan that comes nearest to all locks."""
    lock, one = shop.locks[key], near.by_key[key]
    start = lock.start or 0
    machine = lock.machine or one.machine
    why, behind, fixture = TOGETHER, None, ""
    others = [other for other in near.placements if other.key != key]
    takes = [x for x in others if x.machine == machine and x.start <= start < x.end]
    after = [x for x in others if x.machine == machine and start <= x.start < one.end]
    if start < _ready(shop, near, key):
        why = NOT_THERE
    elif not clock_of(shop.machine[machine]).is_open(start):
        why = CLOSED
    elif takes or (after and one.start > start):
        why, behind = TAKEN, (takes or after)[0].key
    elif shop.operations[key].fixture in shop.fixtures:
        why, fixture = NO_FIXTURE, shop.operations[key].fixture
    return Conflict(
        key=key, why=why, machine=machine, behind=behind, fixture=fixture, start=one.start
    )


def _ready(shop: Shop, near: Plan, key: Key) -> int:
    case = shop.case[key[0]]
    names = [one.name for one in case.operations]
    place = names.index(key[1])
    if not place:
        return case.release
    before = near.by_key[case.serial, names[place - 1]]
    return before.end + case.operations[place].after

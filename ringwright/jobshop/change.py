"""What one change by hand does: order kept elsewhere, hours anew, and the difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ringwright.jobshop.shop import Key, Lock, Plan, Shop, lateness
from ringwright.jobshop.timing import Turn, missed, timed


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One operation put elsewhere: machine, start, and whether it stays there."""

    key: Key
    machine: str
    start: int
    locked: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """One case whose last machine is done at another time than before."""

    serial: str
    before: int
    after: int
    late: int
    """Ticks late afterwards; 0: in time."""

    @property
    def later(self) -> int:
        """Ticks later; below zero: earlier."""
        return self.after - self.before


@dataclass(frozen=True, kw_only=True)
class Effect:
    """The plan with the change, against the plan without."""

    before: Plan
    after: Plan
    shop: Shop
    """With the locks as they are after the change."""
    turns: tuple[Turn, ...]
    moved: tuple[Moved, ...]
    """Cases that go later or earlier, the latest first."""
    stay: tuple[str, ...]
    missed: dict[Key, int]
    """Locks that cannot be kept any more, and by how many ticks."""


def effect_of(shop: Shop, turns: Sequence[Turn], change: Change) -> Effect:
    """The effect: the rest keeps its machines and its order, as early as these allow."""
    before = timed(shop, turns)
    locks = {key: lock for key, lock in shop.locks.items() if key != change.key}
    if change.locked:
        locks[change.key] = Lock(machine=change.machine, start=change.start)
    changed = replace(shop, locks=locks)
    put = Turn(key=change.key, machine=change.machine, start=change.start, held=True)
    order = (*(turn for turn in turns if turn.key != change.key), put)
    after = timed(changed, order)
    was, now, late = before.ends, after.ends, lateness(changed, after)
    moved = [
        Moved(serial=serial, before=was[serial], after=now[serial], late=late.get(serial, 0))
        for serial in was
        if was[serial] != now[serial]
    ]
    return Effect(
        before=before,
        after=after,
        shop=changed,
        turns=order,
        moved=tuple(sorted(moved, key=lambda one: (-one.later, one.serial))),
        stay=tuple(serial for serial in was if was[serial] == now[serial]),
        missed=missed(changed, after),
    )

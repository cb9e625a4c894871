"""A plan made better by moving one operation at a time before another of its machines."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from ringwright.jobshop.shop import Key, Plan, Shop, lateness, weighted_lateness
from ringwright.jobshop.timing import Turn, missed, timed

TRIES: Final = 600
"""Plans that may be looked at: counted, so that the answer is the same everywhere."""


def value(shop: Shop, plan: Plan) -> tuple[int, int]:
    """What a plan is judged by: weighted lateness, then its length."""
    return weighted_lateness(shop, plan), plan.makespan


def polished(shop: Shop, plan: Plan, tries: int = TRIES) -> Plan:
    """The plan, or a better one found by moving what makes cases late."""
    best, worth, left = plan, value(shop, plan), tries
    while True:
        for turns in _moves(shop, best):
            if not left:
                return best
            left -= 1
            found = timed(shop, turns)
            if value(shop, found) < worth and not missed(shop, found):
                best, worth = found, value(shop, found)
                break
        else:
            return best


def _moves(shop: Shop, plan: Plan) -> Iterator[list[Turn]]:
    """Every operation of a late case before each that goes on earlier at one of its machines.

    Those that begin shortly before it come first, since little else then changes.
    """
    late = lateness(shop, plan)
    order = list(plan.placements)
    by_lateness = sorted(
        (one for one in order if one.serial in late and not shop.operations[one.key].on),
        key=lambda one: (-late[one.serial], one.start),
    )
    for one in by_lateness:
        lock = shop.locks.get(one.key)
        if lock is not None and lock.start is not None:
            continue
        machines = (lock.machine,) if lock and lock.machine else None
        for machine in machines or shop.operations[one.key].machines:
            before = [x for x in order if x.machine == machine and x.start < one.end]
            for other in reversed(before):
                if other.key != one.key:
                    yield _put(plan, one.key, machine, other.key)


def _put(plan: Plan, key: Key, machine: str, before: Key) -> list[Turn]:
    """The order with one operation right before another."""
    keys = [one.key for one in plan.placements if one.key != key]
    keys.insert(keys.index(before), key)
    where = {one.key: one.machine for one in plan.placements} | {key: machine}
    return [Turn(key=k, machine=where[k], start=place) for place, k in enumerate(keys)]

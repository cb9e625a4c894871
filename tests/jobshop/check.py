"""A checker of plans that shares nothing with the solver: it looks at every tick."""

from __future__ import annotations

from itertools import permutations, product

from ringwright.jobshop.shop import Plan, Shop


def is_open(spans: tuple[tuple[int, int], ...], tick: int) -> bool:
    return not spans or any(begin <= tick < end for begin, end in spans)


def wrong_with(shop: Shop, plan: Plan) -> list[str]:
    """Everything that a plan breaks, in words."""
    placed = {(one.serial, one.operation): one for one in plan.placements}
    if len(placed) != len(plan.placements) or placed.keys() != shop.operations.keys():
        return ["an operation is missing or stands twice"]
    found = _wrong_ways(shop, plan)
    for machine in shop.machines:
        found += _wrong_on(shop, plan, machine.code, machine.open, machine.set_for)
    for kind, count in shop.fixtures.items():
        held = [x for x in plan.placements if shop.operations[x.key].fixture == kind]
        most = max(
            (sum(x.start <= tick < x.end for x in held) for tick in range(plan.makespan)),
            default=0,
        )
        found += [f"too few of {kind}"] if most > count else []
    for key, lock in shop.locks.items():
        one = placed[key]
        if lock.machine not in ("", one.machine) or lock.start not in (None, one.start):
            found.append(f"{key} is not where it was locked")
    return found


def _wrong_ways(shop: Shop, plan: Plan) -> list[str]:
    """Operations before their time, or on a machine that may not."""
    found: list[str] = []
    for case in shop.cases:
        ready = case.release
        for place, operation in enumerate(case.operations):
            one = plan.by_key[case.serial, operation.name]
            earliest = 0 if operation.on else ready + (operation.after if place else 0)
            if one.start < earliest:
                found.append(f"{one.key} before its time")
            allowed = (operation.on,) if operation.on else operation.machines
            if one.machine not in allowed:
                found.append(f"{one.key} on a machine that may not")
            ready = one.end
    return found


def _wrong_on(
    shop: Shop, plan: Plan, code: str, spans: tuple[tuple[int, int], ...], set_for: str
) -> list[str]:
    found: list[str] = []
    before, free = set_for, 0
    for one in sorted((x for x in plan.placements if x.machine == code), key=lambda x: x.start):
        operation = shop.operations[one.key]
        if one.start < free:
            found.append(f"{one.key} overlaps on {code}")
        work = operation.work or "/".join(one.key)
        set_up = 0 if operation.on or work == before else operation.set_up
        worked = sum(is_open(spans, tick) for tick in range(one.start, one.end))
        if worked != max(set_up + operation.spindle, 1) or one.set_up != set_up:
            found.append(f"{one.key} works {worked} ticks on {code}")
        if not is_open(spans, one.end - 1):
            found.append(f"{one.key} ends in closed hours")
        before, free = work, one.end
    return found


def all_plans_best(shop: Shop) -> tuple[int, int]:
    """Least weighted lateness and then makespan, by trying every order on every machine."""
    keys = list(shop.operations)
    best: tuple[int, int] | None = None
    for machines in product(*(shop.operations[key].machines for key in keys)):
        where = dict(zip(keys, machines, strict=True))
        for order in permutations(keys):
            if any(
                a[0] == b[0] and keys.index(a) > keys.index(b)
                for place, a in enumerate(order)
                for b in order[place + 1 :]
            ):
                continue
            value = _value(shop, order, where)
            best = value if best is None or value < best else best
    assert best is not None
    return best


def _value(
    shop: Shop, order: tuple[tuple[str, str], ...], where: dict[tuple[str, str], str]
) -> tuple[int, int]:
    """Every operation in turn as early as it goes, tick by tick."""
    spans = {one.code: one.open for one in shop.machines}
    work_on = {one.code: one.set_for for one in shop.machines}
    free = dict.fromkeys(spans, 0)
    ready = {case.serial: case.release for case in shop.cases}
    begun: set[str] = set()
    held: list[tuple[str, int, int]] = []
    for key in order:
        operation, machine = shop.operations[key], where[key]
        work = operation.work or "/".join(key)
        length = operation.spindle + (0 if work == work_on[machine] else operation.set_up)
        start = max(free[machine], ready[key[0]] + (operation.after if key[0] in begun else 0))
        while True:
            while not is_open(spans[machine], start):
                start += 1
            end, left = start, length
            while left:
                left -= is_open(spans[machine], end)
                end += 1
            if _has_fixture(shop, held, operation.fixture, start, end):
                break
            start += 1
        held.append((operation.fixture, start, end))
        free[machine], ready[key[0]], work_on[machine] = end, end, work
        begun.add(key[0])
    late = sum(
        case.weight * max(0, ready[case.serial] - case.due)
        for case in shop.cases
        if case.due is not None
    )
    return late, max(ready.values())


def _has_fixture(
    shop: Shop, held: list[tuple[str, int, int]], kind: str, start: int, end: int
) -> bool:
    if kind not in shop.fixtures:
        return True
    return all(
        sum(name == kind and a <= tick < b for name, a, b in held) < shop.fixtures[kind]
        for tick in range(start, end)
    )

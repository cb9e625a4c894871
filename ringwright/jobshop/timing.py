"""A plan from its order: every operation as early as the order of its machine allows.

What the planner keeps is which machine and in which order; the hours follow from it. So a
plan of yesterday has hours of today, and a change by hand shows what it does to the rest.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from ringwright.jobshop.clock import NO_END, Clock, clock_of
from ringwright.jobshop.shop import Case, Key, Operation, Placement, Plan, Shop, in_order


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """An operation in the order of a plan."""

    key: Key
    machine: str
    start: int
    """What the order goes by; where `held`, not before it either."""
    held: bool = False


@dataclass(slots=True)
class State:
    """How far a plan is laid: what each machine, case and fixture is taken until."""

    shop: Shop
    clocks: dict[str, Clock]
    free: dict[str, int]
    """Working ticks of each machine that are taken."""
    set_for: dict[str, str]
    ready: dict[str, int]
    taken: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    """Spans by the wall in which one fixture of a kind is held."""
    laid: list[Placement] = field(default_factory=list)

    def fits(self, key: Key, machine: str, not_before: int = 0) -> Placement:
        """The operation at the earliest there, after all that is laid."""
        operation = self.shop.operations[key]
        clock = self.clocks[machine]
        same = self.set_for[machine] == self.shop.works(key)
        set_up = 0 if operation.on or same else operation.set_up
        length = max(set_up + operation.spindle, 1)
        earliest = max(self.ready_at(key), not_before)
        work = max(clock.work(earliest), self.free[machine])
        begin, end = clock.begin(work), clock.end(work + length)
        while True:
            clear = self._clear(operation.fixture, begin, end)
            if clear is None or begin >= NO_END:
                break
            work = max(clock.work(clear), work + 1)
            begin, end = clock.begin(work), clock.end(work + length)
        if operation.on and not self.free[machine]:
            begin = 0  # it is on now, whoever is there
        serial, name = key
        return Placement(
            serial=serial, operation=name, machine=machine, start=begin, end=end,
            set_up=set_up, locked=key in self.shop.locks,
        )  # fmt: skip

    def lay(self, one: Placement) -> None:
        """It stands; what comes later goes round it."""
        operation = self.shop.operations[one.key]
        self.laid.append(one)
        self.free[one.machine] = self.clocks[one.machine].work(one.end)
        self.set_for[one.machine] = self.shop.works(one.key)
        self.ready[one.serial] = one.end
        if operation.fixture in self.shop.fixtures:
            self.taken.setdefault(operation.fixture, []).append((one.start, one.end))

    def ready_at(self, key: Key) -> int:
        """When its case may go on, by release or by what went before."""
        operation = self.shop.operations[key]
        if operation.on:
            return 0
        before = self.ready.get(key[0])
        return self.shop.case[key[0]].release if before is None else before + operation.after

    def _clear(self, kind: str, begin: int, end: int) -> int | None:
        """When the next fixture comes back, if none is free all the time; None: one is."""
        count = self.shop.fixtures.get(kind)
        if count is None:
            return None
        held = [span for span in self.taken.get(kind, []) if span[0] < end and span[1] > begin]
        moments = [begin, *(start for start, _ in held if start > begin)]
        most = max(sum(start <= at < until for start, until in held) for at in moments)
        return min(until for _, until in held) if most >= max(count, 1) else None


def opened(shop: Shop) -> State:
    """An empty plan."""
    return State(
        shop=shop,
        clocks={one.code: clock_of(one) for one in shop.machines},
        free={one.code: 0 for one in shop.machines},
        set_for={one.code: one.set_for for one in shop.machines},
        ready={},
    )


def timed(shop: Shop, turns: Sequence[Turn]) -> Plan:
    """The plan that keeps machines and order; operations without a turn go last, by due.

    What is on a machine already comes first there. A locked operation stands at its start, or
    later where it cannot: `missed` says which.
    """
    state = opened(shop)
    told = {turn.key: turn for turn in turns if turn.key in shop.operations}
    waiting = [list(case.operations) for case in shop.cases]
    while True:
        heads = [
            (_rank(shop, case, left[0], told), place)
            for place, (case, left) in enumerate(zip(shop.cases, waiting, strict=True))
            if left
        ]
        if not heads:
            return Plan(placements=in_order(state.laid))
        _, place = min(heads)
        key = (shop.cases[place].serial, waiting[place].pop(0).name)
        state.lay(_placed(state, key, told.get(key)))


def _rank(
    shop: Shop, case: Case, operation: Operation, told: dict[Key, Turn]
) -> tuple[bool, bool, int, bool, int]:
    key = (case.serial, operation.name)
    lock, turn = shop.locks.get(key), told.get(key)
    start = lock.start if lock and lock.start is not None else None
    if start is None and turn is not None:
        start = turn.start
    due = case.due if case.due is not None else NO_END
    held = bool(lock and lock.start is not None) or bool(turn and turn.held)
    return not operation.on, start is None, start or 0, not held, due


def _placed(state: State, key: Key, turn: Turn | None) -> Placement:
    operation, lock = state.shop.operations[key], state.shop.locks.get(key)
    not_before = turn.start if turn and turn.held else 0
    if lock is not None and lock.start is not None:
        not_before = max(not_before, lock.start)
    named = operation.on or (lock.machine if lock else "") or (turn.machine if turn else "")
    machines = [named] if named in state.clocks else list(operation.machines)
    fitted = [state.fits(key, one, not_before) for one in machines if one in state.clocks]
    return min(fitted, key=lambda one: one.end)


def turns_of(plan: Plan) -> list[Turn]:
    """The order of a plan."""
    return [Turn(key=one.key, machine=one.machine, start=one.start) for one in plan.placements]


def missed(shop: Shop, plan: Plan) -> dict[Key, int]:
    """Ticks that locked operations start later than their lock."""
    found = plan.by_key
    return {
        key: found[key].start - lock.start
        for key, lock in shop.locks.items()
        if lock.start is not None and key in found and found[key].start != lock.start
    }


Rank = Callable[[Case, Sequence[Operation]], tuple[int, ...]]
"""Which of several cases goes first: by the case and what is left of it; the least first."""


def by_due(shop: Shop) -> Plan:
    """The rule of thumb: whichever can go on first, and of those the one due first."""
    return by_rank(shop, lambda case, _left: (_due(case),))


def by_weight(shop: Shop) -> Plan:
    """Of those that can go on first, the one that counts most, then the one due first."""
    return by_rank(shop, lambda case, _left: (-case.weight, _due(case)))


def by_slack(shop: Shop) -> Plan:
    """Of those that can go on first, the one with the least time beyond its own work."""
    return by_rank(shop, lambda case, left: (_due(case) - _work(left),))


def by_rank(shop: Shop, rank: Rank) -> Plan:
    """Whichever operation can go on first, and of those the one that ranks first."""
    state = opened(shop)
    waiting = {case.serial: list(case.operations) for case in shop.cases if case.operations}
    while waiting:
        heads = []
        for serial, left in waiting.items():
            one = _placed(state, (serial, left[0].name), None)
            place = rank(shop.case[serial], left)
            heads.append((not left[0].on, one.start, place, serial, one))
        one = min(heads, key=lambda head: head[:4])[4]
        state.lay(one)
        waiting[one.serial].pop(0)
        if not waiting[one.serial]:
            del waiting[one.serial]
    return Plan(placements=in_order(state.laid))


def _due(case: Case) -> int:
    return NO_END if case.due is None else case.due


def _work(left: Sequence[Operation]) -> int:
    return sum(one.set_up + one.spindle + one.after for one in left)

"""Seat blades under limits by deadlines, or prove that they cannot be seated.

Blades are seated from the lightest to the heaviest. Once a blade stands in a slot, the slots
limited against it must be filled before the blades grow too heavy: each has a deadline, a rank
among the sorted moments. Seats left must meet their deadlines in turn (J. R. Jackson's rule of
the earliest due date, 1955); a branch where they cannot is dead. When every branch is dead,
nobody can seat these blades. Ranks are compared, never sums of floats: a limit that equals a
difference to the last bit is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ringwright.balance.pool import Floats, Ints
from ringwright.balance.ring_rules import Rules


@dataclass(frozen=True, kw_only=True)
class Seated:
    """The order found, or None; without one, whether that proves that there is none."""

    order: Ints | None
    decided: bool


def latest(moments: Floats, limit: float | None) -> list[int]:
    """For each rank, the last rank within the limit of it."""
    count = len(moments)
    if limit is None:
        return [count - 1] * count
    found, last = [], 0
    for rank in range(count):
        last = max(last, rank)
        while last + 1 < count and moments[last + 1] - moments[rank] <= limit:
            last += 1
        found.append(last)
    return found


@dataclass(kw_only=True)
class _Table:
    """The slots while blades are being seated; ranks stand for blades."""

    edges: list[list[tuple[int, list[int], list[int]]]]
    """For each slot: the other slot, and latest and earliest rank for each rank."""
    wanted: list[int]
    """For each slot the rank locked there, or -1."""
    slot_side: list[int]
    rank_side: list[int]
    due: list[int]
    earliest: list[int]
    chained: bool
    """True when each slot is limited against its neighbours."""
    held: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.held = [-1] * len(self.due)

    def tighten(self, slot: int, latest: int, undo: list[tuple[int, int]]) -> bool:
        """Bring a slot's deadline forward, and those that hang on it; False when one fails."""
        waiting = [(slot, latest)]
        while waiting:
            at, due = waiting.pop()
            if self.held[at] >= 0 or due >= self.due[at]:
                continue
            if due < max(self.wanted[at], self.earliest[at]):
                return False
            undo.append((at, self.due[at]))
            self.due[at] = due
            waiting += [(other, last[due]) for other, last, _ in self.edges[at]]
        return True

    def delay(self, slot: int, rank: int) -> None:
        """No blade below this rank may stand here, nor far below it near here."""
        waiting = [(slot, rank)]
        while waiting:
            at, first = waiting.pop()
            if first > self.earliest[at]:
                self.earliest[at] = first
                waiting += [(other, least[first]) for other, _, least in self.edges[at]]

    def seat(self, rank: int, slot: int, undo: list[tuple[int, int]]) -> bool:
        """Seat one; False when some slot can no longer be filled in time."""
        self.held[slot] = rank
        return all(
            self.tighten(other, last[rank], undo) for other, last, _ in self.edges[slot]
        ) and self.in_time(rank)

    def in_time(self, rank: int) -> bool:
        """Whether the blades that follow can meet the deadlines in turn."""
        for side in set(self.slot_side):
            dues = sorted(
                due
                for at, due in enumerate(self.due)
                if self.held[at] < 0 and self.wanted[at] < 0 and self.slot_side[at] == side
            )
            coming = (r for r in self.open_ranks if r > rank and self.rank_side[r] == side)
            if any(due < r for due, r in zip(dues, coming, strict=False)):
                return False
        return True

    @property
    def open_ranks(self) -> list[int]:
        """Ranks that are not locked, ascending."""
        taken = set(self.wanted)
        return [rank for rank in range(len(self.due)) if rank not in taken]

    def choices(self, rank: int) -> list[int]:
        """Slots this rank may take, the most urgent first."""
        if rank in self.wanted:
            slot = self.wanted.index(rank)
            fits = self.earliest[slot] <= rank <= self.due[slot]
            return [slot] if fits else []
        found = [
            slot
            for slot, held in enumerate(self.held)
            if held < 0
            and self.wanted[slot] < 0
            and self.earliest[slot] <= rank
            and self.slot_side[slot] == self.rank_side[rank]
        ]
        found.sort(key=lambda slot: (self.due[slot], slot))
        return found if self.chained else self._unlike(found)

    def _unlike(self, slots: list[int]) -> list[int]:
        """One slot of each kind: diameters apart from each other may change places."""
        kinds: dict[tuple[int, ...], int] = {}
        for slot in slots:
            kind = [self.due[slot], self.earliest[slot]]
            for other, _, _ in self.edges[slot]:
                filled = int(self.held[other] >= 0)
                kind += [filled, self.wanted[other], self.slot_side[other], self.due[other]]
            kinds.setdefault(tuple(kind), slot)
        return list(kinds.values())


def seat(rules: Rules, high_even: bool, budget: int) -> Seated:
    """Seat all blades; `high_even`: high blades take the 1st, 3rd, 5th … slot if they must.

    Gives up, undecided, after `budget` blades were seated and taken up again.
    """
    ranks = np.argsort(rules.radial, kind="stable")
    table = _lay(rules, ranks, high_even)
    if table is None:
        return Seated(order=None, decided=True)
    turn_free = len(rules.free) == rules.slots and not rules.alternate
    held, decided = _search(table, budget, turn_free)
    return Seated(order=None if held is None else ranks[held], decided=decided)


def _lay(rules: Rules, ranks: Ints, high_even: bool) -> _Table | None:
    """The empty table with its locks; None when the locks alone break a rule."""
    count = rules.slots
    moments = rules.radial[ranks]
    place = np.argsort(ranks)
    windows = []
    for limit in (rules.near, rules.across):
        last = latest(moments, limit)
        flipped = latest(-moments[::-1], limit)
        windows.append((last, [count - 1 - late for late in flipped[::-1]]))
    edges: list[list[tuple[int, list[int], list[int]]]] = []
    for slot in range(count):
        beside = [((slot + step) % count, *windows[0]) for step in (1, -1)]
        if rules.across is not None:
            beside.append(((slot + count // 2) % count, *windows[1]))
        edges.append(beside if rules.near is not None else beside[2:])
    sides = [1 if (slot % 2 == 0) == high_even else -1 for slot in range(count)]
    table = _Table(
        edges=edges,
        wanted=[int(place[blade]) if blade >= 0 else -1 for blade in rules.fixed],
        slot_side=sides if rules.alternate else [0] * count,
        rank_side=[int(rules.side[blade]) for blade in ranks],
        due=[count - 1] * count,
        earliest=[0] * count,
        chained=rules.near is not None,
    )
    return table if _lock(table) else None


def _lock(table: _Table) -> bool:
    """Let the locked blades press on the slots about them; False when that cannot be."""
    for slot, rank in enumerate(table.wanted):
        if rank < 0:
            continue
        if table.rank_side[rank] != table.slot_side[slot]:
            return False
        for other, last, least in table.edges[slot]:
            if not table.tighten(other, last[rank], []):
                return False
            table.delay(other, least[rank])
    return all(first <= due for first, due in zip(table.earliest, table.due, strict=True))


def _search(table: _Table, budget: int, turn_free: bool) -> tuple[list[int] | None, bool]:
    """Depth first, remembering dead ends; the ranks by slot or None, and whether decided."""
    count = len(table.due)
    dead: set[tuple[int, ...]] = set()
    stack: list[tuple[list[int], list[tuple[int, int]], int]] = []
    choices = [0] if turn_free and table.slot_side[0] == 0 else table.choices(0)
    choices = choices[::-1]
    while True:
        if not choices:
            dead.add(_state(table))
            if not stack:
                return None, True
            choices, undo, slot = stack.pop()
            _unseat(table, undo, slot)
            continue
        if budget <= 0:
            return None, False
        budget -= 1
        slot, undo = choices.pop(), []
        if not table.seat(len(stack), slot, undo) or _state(table) in dead:
            _unseat(table, undo, slot)
            continue
        stack.append((choices, undo, slot))
        if len(stack) == count:
            return table.held, True
        choices = table.choices(len(stack))[::-1]


def _state(table: _Table) -> tuple[int, ...]:
    """All that matters for the blades still to come: the open slots and their deadlines."""
    return tuple(
        -1 if held >= 0 else due for held, due in zip(table.held, table.due, strict=True)
    )


def _unseat(table: _Table, undo: list[tuple[int, int]], slot: int) -> None:
    """Take a blade up again."""
    table.held[slot] = -1
    for at, due in reversed(undo):
        table.due[at] = due

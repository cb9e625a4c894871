"""Many orders at once that keep the rules, seated as in `deadlines` but many tables abreast."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ringwright.balance.deadlines import latest
from ringwright.balance.pool import Ints
from ringwright.balance.ring_rules import Flags, Rules
from ringwright.balance.ways import thinned

Ranks = npt.NDArray[np.int32]


@dataclass(frozen=True, kw_only=True)
class _Hall:
    """What all tables share; ranks stand for blades, from the lightest."""

    near: Ranks | None
    """For each rank, the last rank within the limit of it; one more entry for nobody."""
    across: Ranks | None
    wanted: Ranks
    """For each slot the rank locked there, or -1."""
    slot_side: Ranks
    rank_side: Ranks
    earliest: Ranks

    @property
    def slots(self) -> int:
        """How many."""
        return len(self.wanted)

    def press(self, due: Ranks) -> Ranks:
        """Bring forward the deadlines that hang on others."""
        for _ in range(3):
            if self.near is not None:
                for step in (1, -1):
                    due = np.minimum(due, self.near[np.roll(due, step, axis=1)])
            if self.across is not None:
                due = np.minimum(due, self.across[np.roll(due, self.slots // 2, axis=1)])
        return due

    def in_time(self, due: Ranks, rank: int) -> Flags:
        """Tables where the blades after `rank` can meet the deadlines, by count."""
        good = np.ones(len(due), dtype=np.bool_)
        coming = np.arange(rank + 1, self.slots)
        for side in np.unique(self.slot_side):
            mine = coming[self.rank_side[coming] == side]
            dues = np.sort(due[:, self.slot_side == side], axis=1)[:, : len(mine)]
            good &= (dues >= mine).all(axis=1)
        return good


def many_orders(rules: Rules, width: int, rng: np.random.Generator) -> Ints:
    """Up to `width` orders that keep the rules, drawn at random; shape (orders, slots)."""
    ranks = np.argsort(rules.radial, kind="stable")
    high_even = bool(rng.integers(2))
    found = _seat_all(_hall(rules, ranks, high_even), width, rng)
    if not len(found) and rules.alternate:
        found = _seat_all(_hall(rules, ranks, not high_even), width, rng)
    orders = ranks[found]
    return orders[rules.legal(orders)] if len(orders) else orders


def _hall(rules: Rules, ranks: Ints, high_even: bool) -> _Hall:
    """Compile the rules into ranks."""
    count = rules.slots
    moments = rules.radial[ranks]
    place = np.argsort(ranks)
    wanted = np.where(rules.fixed >= 0, place[rules.fixed], -1).astype(np.int32)
    none = np.zeros(count, dtype=np.int32)
    sides = np.where((np.arange(count) % 2 == 0) == high_even, 1, -1).astype(np.int32)
    windows = [
        None if limit is None else np.array([*latest(moments, limit), count], dtype=np.int32)
        for limit in (rules.near, rules.across)
    ]
    return _Hall(
        near=windows[0],
        across=windows[1],
        wanted=wanted,
        slot_side=sides if rules.alternate else none,
        rank_side=rules.side[ranks].astype(np.int32),
        earliest=_earliest(rules, moments, wanted),
    )


def _earliest(rules: Rules, moments: npt.NDArray[np.float64], wanted: Ranks) -> Ranks:
    """For each slot, the lightest rank that the locked blades about it allow."""
    found = np.zeros(rules.slots, dtype=np.int32)
    for slot in np.flatnonzero(wanted >= 0):
        for other, limit in rules.edges[slot]:
            first = int(np.argmax(moments[wanted[slot]] - moments <= limit))
            found[other] = max(int(found[other]), first)
    return found


def _seat_all(hall: _Hall, width: int, rng: np.random.Generator) -> Ints:
    """Seat rank by rank at all tables, thinning them at random."""
    count = hall.slots
    held = np.full((1, count), -1, dtype=np.int32)
    # A filled slot's deadline is nobody's: one past the last rank.
    due = np.where(hall.wanted >= 0, hall.wanted, count - 1).astype(np.int32)[None, :]
    due = np.minimum(due, hall.press(due))
    for rank in range(count):
        table, slot = np.nonzero(_rarely_apart(_open(hall, held, due, rank), held, rng))
        if len(table) > 3 * width:
            kept = thinned(len(table), 3 * width, rng)
            table, slot = table[kept], slot[kept]
        held, due = held[table], due[table]
        rows = np.arange(len(table))
        held[rows, slot] = rank
        due[rows, slot] = rank
        pressed = hall.press(due)
        due = np.where(held >= 0, count, np.minimum(due, pressed)).astype(np.int32)
        good = np.flatnonzero(hall.in_time(due, rank) & _locks_meet(hall, held, due))
        if len(good) > width:
            good = good[thinned(len(good), width, rng)]
        held, due = held[good], due[good]
    found: Ints = held.astype(np.intp)
    return found


def _rarely_apart(good: Flags, held: Ranks, rng: np.random.Generator) -> Flags:
    """Leave slots beside no filled one to a few tables: each such seat opens a new valley."""
    filled = held >= 0
    beside = np.roll(filled, 1, axis=1) | np.roll(filled, -1, axis=1)
    apart = rng.random(len(held)) < rng.random(len(held)) ** 2
    some = good & (beside | apart[:, None])
    found: Flags = np.where(some.any(axis=1, keepdims=True), some, good)
    return found


def _open(hall: _Hall, held: Ranks, due: Ranks, rank: int) -> Flags:
    """Slots of each table that the rank may take."""
    good: Flags = (held < 0) & (due >= rank) & (hall.earliest <= rank)
    good &= hall.slot_side == hall.rank_side[rank]
    own = hall.wanted == rank
    return good & (own if own.any() else hall.wanted < 0)


def _locks_meet(hall: _Hall, held: Ranks, due: Ranks) -> Flags:
    """Tables where every locked slot can still wait for its blade."""
    locked = hall.wanted >= 0
    waiting = held[:, locked] < 0
    good: Flags = np.all(~waiting | (due[:, locked] >= hall.wanted[locked]), axis=1)
    return good

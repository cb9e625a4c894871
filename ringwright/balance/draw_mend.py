"""Exchange blades between sets, and with the shelf, until every set has an order.

A tabu search (F. Glover, ORSA Journal on Computing 1, 1989): the set that misses most gives up
a blade, whichever exchange leaves the sets together missing least; a blade that moved rests.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ringwright.balance.draw_order import Orders
from ringwright.balance.draw_stock import Masks
from ringwright.balance.pool import Floats, Ints

_REST, _MOST_FRUITLESS = 8, 50
# Exchanges weighed at once, in readings sorted.
_MOST_AT_ONCE = 1_000_000
# What sets are asked to keep of the limits where rules meet: less leaves room for all of them.
_TIGHTNESS = (1.0, 0.7, 0.4)


@dataclass(kw_only=True)
class Mender:
    """Mends the sets of one drawing."""

    orders: Orders
    cost: Floats
    rounds: int
    """Exchanges still to be tried, over all attempts of the drawing."""
    stop: Callable[[], bool]

    taken: Masks | None = None
    """Blades that must not be used: those of sets that stand already."""

    def mend(self, sets: list[Ints], *, first: int = 0) -> list[Ints | None]:
        """The sets (locked blades included) with an order each; None where none was found.

        `first` is the number of the first of them: number 0 alone knows the locks.
        """
        held = [np.array(set_) for set_ in sets]
        best: list[Ints | None] = [None] * len(held)
        for tightness in _TIGHTNESS if self.orders.mixed else _TIGHTNESS[:1]:
            held = self._search(held, tightness)
            missed = self.orders.excess(np.stack(held), tightness)
            fine = [
                left <= 0 and self.orders.has(set_, first=n + first == 0)
                for n, (set_, left) in enumerate(zip(held, missed.tolist(), strict=True))
            ]
            if sum(fine) > sum(set_ is not None for set_ in best):
                best = [set_ if good else None for set_, good in zip(held, fine, strict=True)]
            if all(fine) or self.stop():
                break
        return best

    def _search(self, held: list[Ints], tightness: float) -> list[Ints]:
        """The best sets found: fewest that miss, then least missed."""
        missed = self.orders.excess(np.stack(held), tightness)
        best = (int((missed > 0).sum()), float(missed.sum()), list(held))
        rests = np.zeros(len(self.orders.stock), dtype=np.intp)
        fruitless = 0
        for round_ in range(self.rounds):
            if best[0] == 0 or fruitless > _MOST_FRUITLESS or self.stop():
                break
            self.rounds -= 1
            fruitless += 1
            worst = np.flatnonzero(missed > 0)
            number = int(worst[round_ % len(worst)])
            if not self._exchange(held, missed, number, tightness, rests > round_):
                continue
            moved = np.setxor1d(held[number], best[2][number])
            rests[moved] = round_ + _REST
            score = (int((missed > 0).sum()), float(missed.sum()))
            if score < best[:2]:
                best, fruitless = (*score, list(held)), 0
        return best[2]

    def _exchange(
        self,
        held: list[Ints],
        missed: Floats,
        number: int,
        tightness: float,
        resting: Masks,
    ) -> bool:
        """Make the best exchange of one blade of this set with any blade elsewhere."""
        owner = np.full(len(self.orders.stock), -1, dtype=np.intp)
        for other, set_ in enumerate(held):
            owner[set_] = other
        able = ~resting
        able[self.orders.stock.locked] = False
        if self.taken is not None:
            able &= ~self.taken
        mine = held[number]
        out = np.flatnonzero(able[mine])
        spare = np.flatnonzero(able & (owner != number))
        most = max(1, _MOST_AT_ONCE // (len(mine) * max(len(out), 1)))
        spare = spare[np.argsort(self.cost[spare] - (owner[spare] < 0), kind="stable")[:most]]
        if not len(out) or not len(spare):
            return False
        sets, left, came = _exchanged(mine, out, spare)
        total = self.orders.excess(sets, tightness) - missed[number]
        for other in np.unique(owner[came[owner[came] >= 0]]).tolist():
            rows = np.flatnonzero((owner[came] == other) & np.isfinite(total))
            theirs = _given(held[other], came[rows], left[rows])
            total[rows] += self.orders.excess(theirs, tightness) - missed[other]
        at = int(np.lexsort((self.cost[came] - self.cost[left], np.round(total, 6)))[0])
        if not np.isfinite(total[at]):
            return False
        other = int(owner[came[at]])
        held[number] = np.sort(sets[at])
        missed[number] = self.orders.excess(held[number][None, :], tightness)[0]
        if other >= 0:
            held[other] = np.sort(_given(held[other], came[[at]], left[[at]])[0])
            missed[other] = self.orders.excess(held[other][None, :], tightness)[0]
        return True


def _exchanged(set_: Ints, out: Ints, spare: Ints) -> tuple[Ints, Ints, Ints]:
    """All sets with one blade of `out` (positions) replaced by a spare; who left and came."""
    positions, came = np.repeat(out, len(spare)), np.tile(spare, len(out))
    sets = np.tile(set_, (len(positions), 1))
    sets[np.arange(len(sets)), positions] = came
    return sets, set_[positions], came


def _given(set_: Ints, gone: Ints, instead: Ints) -> Ints:
    """The set once for each exchange: `gone` replaced by `instead`."""
    sets = np.tile(set_, (len(gone), 1))
    sets[sets == gone[:, None]] = instead
    return sets

"""Mend a ring that exists: blades lost, spares at hand, as few moves as may be.

A *replacement* puts a spare into a slot whose blade is lost. An *exchange* lets two blades of
the ring, the new one among them, change slots. The table says what each number of exchanges
leaves, with and without giving the blades opposite the lost ones back for spares too.

One lost blade: every spare with every exchange is tried, and with two exchanges every couple of
exchanges, on a large ring through a tree of nearest vectors. More lost blades: every deal of
spares where they are few enough, else of those nearest in moment to what was lost.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, permutations

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from ringwright.balance.limits import Limits
from ringwright.balance.pool import Floats, Ints, Pool, Vectors
from ringwright.balance.vectors import Measured, broken, measure, phasors
from ringwright.balance.work import Work
from ringwright.core.errors import Refused

MOST_DEALS = 60_000
MOST_EXCHANGES = 2
DEALS_TO_EXCHANGE = 60
"""Deals of several spares that exchanges are tried on, the best of them."""
TRIED = 6_000
"""Candidates checked against the limits before a row is given up."""
WHOLE = 700
"""Exchanges of a ring up to which all couples of them are listed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One row of the table: what is done, and what the ring then comes to."""

    opposite: bool
    """True where the blades opposite the lost ones are replaced too."""
    exchanges: tuple[tuple[int, int], ...]
    """Slots whose blades change places after the replacements, in order."""
    replaced: tuple[tuple[int, int, int], ...]
    """(slot, place of the blade that leaves, place of the spare)."""
    order: tuple[int, ...]
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """A ring as it stands, and which of its blades are lost."""

    ring: tuple[int, ...]
    """Place in the pool for slot 1 … N, lost blades included."""
    lost: tuple[int, ...]
    """Places of the lost blades."""


def repair(
    pool: Pool,
    damage: Damage,
    limits: Limits,
    work: Work,
    *,
    exchanges: int = MOST_EXCHANGES,
    opposite_too: bool = True,
) -> tuple[Move, ...]:
    """The table of moves: rows by opposite and number of exchanges, each the best found.

    Spares are all blades of the pool outside the ring that are not excluded. A row is left out
    where nothing keeps the limits, or where an exchange more improves nothing. Raises Refused
    when no row is left.
    """
    ring, lost = damage.ring, damage.lost
    _check(pool, damage, limits, exchanges)
    slots = [slot for slot, place in enumerate(ring) if place in set(lost)]
    there = _Ring(pool, ring, limits, work)
    rows = _rows(there, slots, exchanges, opposite=False)
    both = _with_opposites(slots, len(ring))
    if (
        opposite_too
        and len(both) > len(slots)
        and not {s + 1 for s in both} & set(limits.locks)
    ):
        rows += _rows(there, both, exchanges, opposite=True)
    if not rows:
        raise Refused(
            f"none of the {len(there.spares)} spares mends this ring within the limits; "
            "loosen a limit or bring more blades"
        )
    return tuple(rows)


def _with_opposites(slots: Sequence[int], count: int) -> list[int]:
    """The slots and those opposite them; on an odd ring the slots alone."""
    if count % 2:
        return list(slots)
    return sorted({s for slot in slots for s in (slot, (slot + count // 2) % count)})


def _check(pool: Pool, damage: Damage, limits: Limits, exchanges: int) -> None:
    ring, lost = damage.ring, damage.lost
    if len(ring) != limits.slots:
        raise Refused(f"the ring has {len(ring)} slots, not {limits.slots}")
    if not lost:
        raise Refused("say which blade is lost")
    strange = [pool.blades[place].serial for place in lost if place not in ring]
    if strange:
        raise Refused(f"{', '.join(strange)} stands in no slot of this ring")
    if not 0 <= exchanges <= MOST_EXCHANGES:
        raise Refused(f"the table knows 0 to {MOST_EXCHANGES} exchanges, not {exchanges}")
    gone = {pool.blades[place].serial for place in lost}
    for slot, serial in limits.locks.items():
        if serial in gone:
            raise Refused(f"{serial} is lost and locked into slot {slot}")
        if pool.blades[ring[slot - 1]].serial != serial:
            raise Refused(f"{serial} does not stand in slot {slot} of this ring to be locked")


class _Ring:
    """A ring with its spares, as arrays."""

    def __init__(self, pool: Pool, ring: Sequence[int], limits: Limits, work: Work) -> None:
        self.pool, self.limits, self.work = pool, limits, work
        self.ring = np.asarray(ring, dtype=np.intp)
        standing = {int(place) for place in ring}
        self.spares = [
            place
            for place, blade in enumerate(pool.blades)
            if place not in standing and blade.serial not in limits.excluded
        ]
        self.unit = phasors(len(self.ring))
        self.middle = complex(pool.moment_g_mm[self.ring].mean())
        self.movable = np.array(
            [slot for slot in range(len(self.ring)) if slot + 1 not in limits.locks],
            dtype=np.intp,
        )

    def deals(self, slots: Sequence[int]) -> Ints:
        """Spares for the slots, shape (deals, slots), best first, within the spreads."""
        spares = self._likely(slots)
        listed = list(islice(permutations(spares, len(slots)), MOST_DEALS))
        if not listed:
            return np.empty((0, len(slots)), dtype=np.intp)
        deals = np.array(listed, dtype=np.intp)
        left = self.left_by(slots, deals)
        keeps = self._keep_spread(slots, deals)
        order = np.argsort(np.where(keeps, np.abs(left), np.inf), kind="stable")
        return deals[order[: int(keeps.sum())]]

    def _likely(self, slots: Sequence[int]) -> list[int]:
        """As many spares as can be dealt in full, those nearest to what was lost."""
        count, many = len(slots), len(self.spares)
        while many > count and math.perm(many, count) > MOST_DEALS:
            many -= 1
        if many >= len(self.spares):
            return self.spares
        gone = self.pool.moment_g_mm[self.ring[list(slots)]].mean()
        moment = self.pool.moment_g_mm
        return sorted(self.spares, key=lambda place: abs(float(moment[place] - gone)))[:many]

    def left_by(self, slots: Sequence[int], deals: Ints) -> Vectors:
        """The residual of each deal with nothing else moved, shape (deals,)."""
        kept = np.setdiff1d(np.arange(len(self.ring)), slots)
        moments = self.pool.moments - self.middle
        base = (moments[self.ring[kept]] * self.unit[kept]).sum() + self.limits.disc_g_mm
        found: Vectors = base + (moments[deals] * self.unit[list(slots)]).sum(axis=1)
        return found

    def _keep_spread(self, slots: Sequence[int], deals: Ints) -> npt.NDArray[np.bool_]:
        """Which deals keep the spreads; they do not depend on the slots."""
        kept = self.ring[np.setdiff1d(np.arange(len(self.ring)), slots)]
        good = np.ones(len(deals), dtype=np.bool_)
        limits = self.limits
        for values, limit in (
            (self.pool.moment_g_mm, limits.moment_spread_g_mm),
            (self._frequencies(), limits.frequency_spread_hz),
        ):
            if limit is None or values is None:
                continue
            there = values[deals]
            high = np.maximum(there.max(axis=1), values[kept].max(initial=-np.inf))
            low = np.minimum(there.min(axis=1), values[kept].min(initial=np.inf))
            good &= high - low <= limit
        return good

    def _frequencies(self) -> Floats | None:
        """Frequencies, NaN where not read: such a spare keeps no limit."""
        if self.limits.frequency_spread_hz is None:
            return None
        return np.array(
            [math.nan if b.frequency_hz is None else b.frequency_hz for b in self.pool.blades]
        )

    def keeps(self, order: Ints) -> bool:
        """True when the order keeps every limit, by the exact recheck."""
        chosen = self.pool.take(order)
        return not broken(chosen, range(len(order)), self.limits)


def _rows(there: _Ring, slots: Sequence[int], exchanges: int, *, opposite: bool) -> list[Move]:
    rows: list[Move] = []
    deals = there.deals(slots)
    for count in range(exchanges + 1):
        found = _best(there, slots, deals, count)
        if found is None:
            continue
        order, swaps = found
        measured = measure(there.pool, order, there.limits.disc_g_mm)
        if rows and measured.residual_g_mm >= rows[-1].measured.residual_g_mm:
            continue
        rows.append(
            Move(
                opposite=opposite,
                exchanges=swaps,
                replaced=_replaced(there, slots, order, swaps),
                order=tuple(int(place) for place in order),
                measured=measured,
            )
        )
    return rows


def _replaced(
    there: _Ring, slots: Sequence[int], order: Ints, swaps: Sequence[tuple[int, int]]
) -> tuple[tuple[int, int, int], ...]:
    before = order.copy()
    for one, other in reversed(swaps):
        before[[one - 1, other - 1]] = before[[other - 1, one - 1]]
    return tuple((slot + 1, int(there.ring[slot]), int(before[slot])) for slot in slots)


Found = tuple[Ints, tuple[tuple[int, int], ...]]


def _best(there: _Ring, slots: Sequence[int], deals: Ints, count: int) -> Found | None:
    """The best order with exactly `count` exchanges that keeps the limits."""
    most = len(deals) if len(slots) == 1 else DEALS_TO_EXCHANGE
    candidates: list[tuple[float, int, tuple[tuple[int, int], ...]]] = []
    for number, deal in enumerate(deals[:most] if count else deals[:TRIED]):
        if there.work.over():
            break
        order = _dealt(there, slots, deal)
        candidates += [(size, number, swaps) for size, swaps in _exchanged(there, order, count)]
    candidates.sort(key=lambda one: one[0])
    for _, number, swaps in candidates[:TRIED]:
        order = _dealt(there, slots, deals[number])
        for one, other in swaps:
            order[[one, other]] = order[[other, one]]
        if there.keeps(order):
            return order, tuple((one + 1, other + 1) for one, other in swaps)
    return None


def _dealt(there: _Ring, slots: Sequence[int], deal: Ints) -> Ints:
    order = there.ring.copy()
    order[list(slots)] = deal
    return order


def _exchanged(
    there: _Ring, order: Ints, count: int
) -> Iterator[tuple[float, tuple[tuple[int, int], ...]]]:
    """(residual, exchanges) of the most promising ways to exchange so many times."""
    moments = (there.pool.moments - there.middle)[order]
    left = complex((moments * there.unit).sum() + there.limits.disc_g_mm)
    if count == 0:
        yield abs(left), ()
        return
    one, other, change = _all_exchanges(there, moments)
    if count == 1:
        size = np.abs(left + change)
        for best in np.argsort(size, kind="stable")[: _promising(there)]:
            yield float(size[best]), ((int(one[best]), int(other[best])),)
        return
    for size_, first, second in _couples(there, left, (one, other, change)):
        yield (
            size_,
            (
                (int(one[first]), int(other[first])),
                (int(one[second]), int(other[second])),
            ),
        )


def _promising(there: _Ring) -> int:
    limits = there.limits
    tied = (limits.neighbour_g_mm, limits.opposite_g_mm)
    return 4_560 if limits.alternate or any(limit is not None for limit in tied) else 4


def _all_exchanges(there: _Ring, moments: Vectors) -> tuple[Ints, Ints, Vectors]:
    """Every exchange of two slots that are not locked, and what it adds to the residual."""
    upper = np.triu_indices(len(there.movable), 1)
    one, other = there.movable[upper[0]], there.movable[upper[1]]
    change = (moments[other] - moments[one]) * (there.unit[one] - there.unit[other])
    return one, other, change


def _couples(
    there: _Ring, left: complex, exchanges: tuple[Ints, Ints, Vectors]
) -> Iterator[tuple[float, int, int]]:
    """Couples of exchanges of four slots, the most promising first."""
    one, other, change = exchanges
    if len(change) < 2:
        return
    if len(change) <= WHOLE:
        first, second = np.triu_indices(len(change), 1)
    else:
        many = min(12, len(change))
        tree = cKDTree(np.column_stack([change.real, change.imag]))
        wanted = -(left + change)
        rows = tree.query(np.column_stack([wanted.real, wanted.imag]), k=many)[1]
        first = np.repeat(np.arange(len(change)), many)
        second = rows.reshape(-1)
    apart = (one[first] != one[second]) & (one[first] != other[second])
    apart &= (other[first] != one[second]) & (other[first] != other[second])
    first, second = first[apart], second[apart]
    size = np.abs(left + change[first] + change[second])
    most = min(_promising(there), len(size))
    best = np.argpartition(size, most - 1)[:most] if most else np.empty(0, dtype=np.intp)
    for place in best[np.argsort(size[best], kind="stable")]:
        yield float(size[place]), int(first[place]), int(second[place])

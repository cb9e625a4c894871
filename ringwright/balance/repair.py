"""Mend a ring that exists: blades lost, spares at hand, as few moves as may be.

A *replacement* puts a spare into a slot whose blade is lost. An *exchange* lets two blades of
the ring, the new one among them, change slots, or a blade of the ring give way to a spare. The
table says what each number of exchanges leaves, with and without giving the blades opposite the
lost ones back for spares too.

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

from ringwright.balance.limits import Limits
from ringwright.balance.nearest import nearest
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
WHOLE = 800
"""Exchanges of a ring up to which all couples of them are listed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchange:
    """Two blades that change slots, or one that gives way to a spare."""

    slot: int
    other_slot: int | None = None
    spare: int | None = None
    """Place of the spare that comes in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One row of the table: what is done, and what the ring then comes to."""

    opposite: bool
    """True where the blades opposite the lost ones are replaced too."""
    exchanges: tuple[Exchange, ...]
    """What is exchanged after the replacements; no slot or spare is in two of them."""
    replaced: tuple[tuple[int, int, int], ...]
    """(slot, place of the blade that leaves, place of the spare) of each replacement."""
    order: tuple[int, ...]
    measured: Measured

    def beside(self, lost: int) -> int:
        """Moves beside the replacement of so many lost blades.

        Taking an opposite blade out for a spare is one, like any exchange with a spare.
        """
        return len(self.exchanges) + len(self.replaced) - lost


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

    @property
    def promising(self) -> int:
        """How many ways are worth a recheck: more where limits may refuse the best of them."""
        limits = self.limits
        asked = (
            limits.neighbour_g_mm,
            limits.opposite_g_mm,
            limits.moment_spread_g_mm,
            limits.frequency_spread_hz,
        )
        return 4_560 if limits.alternate or any(v is not None for v in asked) else 4

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
        order, deal, swaps = found
        # By themselves: a lost blade or a spare without a reading hides none of theirs.
        chosen = there.pool.take(order)
        measured = measure(chosen, range(len(chosen)), there.limits.disc_g_mm)
        if rows and measured.residual_g_mm >= rows[-1].measured.residual_g_mm:
            continue
        rows.append(
            Move(
                opposite=opposite,
                exchanges=swaps,
                replaced=_replaced(there, slots, deal),
                order=tuple(int(place) for place in order),
                measured=measured,
            )
        )
    return rows


def _replaced(
    there: _Ring, slots: Sequence[int], deal: Ints
) -> tuple[tuple[int, int, int], ...]:
    return tuple(
        (slot + 1, int(there.ring[slot]), int(spare))
        for slot, spare in zip(slots, deal, strict=True)
    )


@dataclass(frozen=True, slots=True)
class _Exchanges:
    """Every exchange of a dealt ring as arrays: slots from 0, -1 where there is none."""

    slot: Ints
    other: Ints
    spare: Ints
    change: Vectors
    """What each adds to the residual."""

    def named(self, number: int) -> Exchange:
        """One of them, as the table tells it."""
        other, spare = int(self.other[number]), int(self.spare[number])
        return Exchange(
            slot=int(self.slot[number]) + 1,
            other_slot=None if other < 0 else other + 1,
            spare=None if spare < 0 else spare,
        )

    def apart(self, first: Ints, second: Ints) -> npt.NDArray[np.bool_]:
        """True for couples that share neither a slot nor a spare."""
        good: npt.NDArray[np.bool_] = self.slot[first] != self.slot[second]
        for one, two in ((self.slot, self.other), (self.other, self.slot)):
            good &= one[first] != two[second]
        for names in (self.other, self.spare):
            good &= (names[first] != names[second]) | (names[first] < 0)
        return good


def _done(order: Ints, exchanges: Sequence[Exchange]) -> Ints:
    """The order after the exchanges."""
    found = order.copy()
    for one in exchanges:
        if one.other_slot is not None:
            pair = [one.slot - 1, one.other_slot - 1]
            found[pair] = found[pair[::-1]]
        elif one.spare is not None:
            found[one.slot - 1] = one.spare
    return found


Found = tuple[Ints, Ints, tuple[Exchange, ...]]


def _best(there: _Ring, slots: Sequence[int], deals: Ints, count: int) -> Found | None:
    """(order, deal, exchanges) of the best with exactly `count` exchanges within the limits."""
    most = len(deals) if len(slots) == 1 else DEALS_TO_EXCHANGE
    candidates: list[tuple[float, int, tuple[Exchange, ...]]] = []
    for number, deal in enumerate(deals[:most] if count else deals[:TRIED]):
        # Without an exchange there is always time: it is quick, and it is the first answer.
        if count and there.work.over():
            break
        order = _dealt(there, slots, deal)
        candidates += [(size, number, done) for size, done in _exchanged(there, order, count)]
    candidates.sort(key=lambda one: one[0])
    for _, number, exchanges in candidates[:TRIED]:
        order = _done(_dealt(there, slots, deals[number]), exchanges)
        if there.keeps(order):
            return order, deals[number], exchanges
    return None


def _dealt(there: _Ring, slots: Sequence[int], deal: Ints) -> Ints:
    order = there.ring.copy()
    order[list(slots)] = deal
    return order


def _exchanged(
    there: _Ring, order: Ints, count: int
) -> Iterator[tuple[float, tuple[Exchange, ...]]]:
    """(residual, exchanges) of the most promising ways to exchange so many times."""
    moments = (there.pool.moments - there.middle)[order]
    left = complex((moments * there.unit).sum() + there.limits.disc_g_mm)
    if count == 0:
        yield abs(left), ()
        return
    there_are = _all_exchanges(there, order, moments)
    if count == 1:
        size = np.abs(left + there_are.change)
        for best in np.argsort(size, kind="stable")[: there.promising]:
            yield float(size[best]), (there_are.named(best),)
        return
    for found, first, second in _couples(there, left, there_are):
        yield found, (there_are.named(first), there_are.named(second))


def _all_exchanges(there: _Ring, order: Ints, moments: Vectors) -> _Exchanges:
    """Exchanges of two slots, and of a slot with a spare that is still free; locks stay."""
    upper = np.triu_indices(len(there.movable), 1)
    one, other = there.movable[upper[0]], there.movable[upper[1]]
    swap = (moments[other] - moments[one]) * (there.unit[one] - there.unit[other])
    free = np.setdiff1d(there.spares, order)
    # A slot that was just dealt a spare: another spare there is another deal, no exchange.
    kept = np.array([s for s in there.movable if order[s] == there.ring[s]], dtype=np.intp)
    slot, spare = np.repeat(kept, len(free)), np.tile(free, len(kept))
    came = (there.pool.moments - there.middle)[spare]
    none, no_spare = np.full(len(slot), -1), np.full(len(one), -1)
    return _Exchanges(
        slot=np.concatenate([one, slot]),
        other=np.concatenate([other, none]),
        spare=np.concatenate([no_spare, spare]),
        change=np.concatenate([swap, (came - moments[slot]) * there.unit[slot]]),
    )


def _couples(
    there: _Ring, left: complex, exchanges: _Exchanges
) -> Iterator[tuple[float, int, int]]:
    """Couples of exchanges that are apart, the most promising first."""
    change = exchanges.change
    if len(change) < 2:
        return
    if len(change) <= WHOLE:
        first, second = np.triu_indices(len(change), 1)
    else:
        many = min(12, len(change))
        places = nearest(change, -(left + change), many)[1]
        first = np.repeat(np.arange(len(change)), many)
        second = places.reshape(-1)
    apart = exchanges.apart(first, second)
    first, second = first[apart], second[apart]
    size = np.abs(left + change[first] + change[second])
    most = min(there.promising, len(size))
    best = np.argpartition(size, most - 1)[:most] if most else np.empty(0, dtype=np.intp)
    for place in best[np.argsort(size[best], kind="stable")]:
        yield float(size[place]), int(first[place]), int(second[place])

"""The rules of one ring as arrays: what each blade brings, what may stand beside what."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from ringwright.balance.limits import Limits
from ringwright.balance.pool import Floats, Ints, Pool, Vectors
from ringwright.balance.vectors import opposite_differences, phasors

Flags = npt.NDArray[np.bool_]

NOISE = 1e-13
"""A residual this small a part of what one blade brings is the noise of the sum itself."""

STATIC_FIRST = 1e-3
"""Where the static residual may stop, what is over counts far more than any couple."""

COUPLE_SHARE = 1e-3
"""With no uncertainty of the axial moments told, the couple may stop at this part of what
blades dealt at random leave. Common practice, no source: a scale resolves no more."""


@dataclass(frozen=True, kw_only=True)
class Aim:
    """What is sought: every channel (static, then couple) at most `enough`.

    Without `enough` a channel is sought as small as can be.
    """

    stop_at_g_mm: float | None = None
    couple_enough_g_mm2: float | None = None

    @property
    def spends_on_pairs(self) -> bool:
        """True when freedom left over goes to the differences of opposite blades."""
        return self.stop_at_g_mm is not None


@dataclass(frozen=True, kw_only=True)
class Rules:
    """A pool of exactly as many blades as slots, compiled. Slots count from 0 here."""

    loads: Vectors
    """Shape (channels, blades): radial + i·tangential moment, then axial; less their means."""
    start: Vectors
    """Shape (channels,): what is there before any blade, from the disc."""
    enough: Floats
    """Shape (channels,): as good as nothing."""
    radial: Floats
    """Shape (blades,): radial moments as read, for the differences."""
    side: npt.NDArray[np.int8]
    """+1 above the median frequency, -1 below; all 0 when they need not alternate."""
    fixed: Ints
    """Shape (slots,): the blade locked there, or -1."""
    near: float | None
    across: float | None
    aim: Aim

    @property
    def slots(self) -> int:
        """How many slots, and blades."""
        return len(self.radial)

    @cached_property
    def phasors(self) -> Vectors:
        """Where the slots stand."""
        return phasors(self.slots)

    @cached_property
    def free(self) -> Ints:
        """Slots that are not locked."""
        return np.flatnonzero(self.fixed < 0)

    @cached_property
    def free_blades(self) -> Ints:
        """Blades that are not locked."""
        return np.setdiff1d(np.arange(self.slots), self.fixed[self.fixed >= 0])

    @cached_property
    def scale(self) -> Floats:
        """Shape (channels,): what blades dealt at random would leave, root-mean-square."""
        size = np.sqrt((np.abs(self.loads) ** 2).sum(axis=1))
        if self.aim.spends_on_pairs and len(size) > 1:
            size[0] *= STATIC_FIRST
        found: Floats = np.where(size > 1e-100, size, 1.0)
        return found

    @cached_property
    def noise(self) -> Floats:
        """Shape (channels,): sizes that the arithmetic cannot tell from nothing."""
        largest = np.abs(self.loads).max(axis=1, initial=0.0)
        found: Floats = NOISE * (largest + np.abs(self.start))
        return found

    @property
    def alternate(self) -> bool:
        """True when high and low frequencies must alternate."""
        return bool(self.side.any())

    @property
    def bound(self) -> bool:
        """True when blades limit each other across slots."""
        return self.near is not None or self.across is not None

    @property
    def turns(self) -> bool:
        """True when a ring turned by one slot is as good: no disc, no locks."""
        return len(self.free) == self.slots and not self.start.any()

    @cached_property
    def edges(self) -> tuple[tuple[tuple[int, float], ...], ...]:
        """For each slot, the slots it is limited against, and the limit."""
        count = self.slots
        found: list[tuple[tuple[int, float], ...]] = []
        for slot in range(count):
            beside: list[tuple[int, float]] = []
            if self.near is not None:
                beside += [((slot + step) % count, self.near) for step in (1, -1)]
            if self.across is not None:
                beside.append(((slot + count // 2) % count, self.across))
            found.append(tuple(beside))
        return tuple(found)

    def left(self, order: Ints) -> Vectors:
        """What an order leaves, shape (channels,)."""
        return self.start + self.loads[:, order] @ self.phasors

    def score(self, left: Vectors) -> Floats:
        """How far residuals of shape (channels, …) are from enough; 0 is enough."""
        shape = (-1,) + (1,) * (left.ndim - 1)
        over = np.abs(left) - self.enough.reshape(shape)
        np.maximum(over, 0.0, out=over)
        over /= self.scale.reshape(shape)
        found: Floats = (over * over).sum(axis=0)
        return found

    def done(self, order: Ints) -> bool:
        """True when an order leaves no more than is enough, or than the sum's noise."""
        left = np.abs(self.left(order))
        return bool(np.all((left <= self.enough) | (left <= self.noise)))

    def pair_loss(self, order: Ints) -> float:
        """Sum of squared differences of opposite blades; 0 on an odd ring."""
        return float((opposite_differences(self.radial[order]) ** 2).sum())

    def key(self, order: Ints) -> tuple[float, float]:
        """What is to be as small as can be: the score, then what freedom left goes to."""
        score = float(self.score(self.left(order)))
        return score, self.pair_loss(order) if self.aim.spends_on_pairs else 0.0

    def legal(self, orders: Ints) -> Flags:
        """Which of the orders, shape (rows, slots), keep every rule."""
        half = self.slots // 2
        held = self.radial[orders]
        good = np.ones(len(orders), dtype=np.bool_)
        if self.near is not None:
            good &= (np.abs(held - np.roll(held, -1, axis=1)) <= self.near).all(axis=1)
        if self.across is not None:
            good &= (np.abs(held[:, :half] - held[:, half:]) <= self.across).all(axis=1)
        if self.alternate:
            side = self.side[orders]
            good &= (side == -np.roll(side, -1, axis=1)).all(axis=1)
        locked = np.flatnonzero(self.fixed >= 0)
        good &= (orders[:, locked] == self.fixed[locked]).all(axis=1)
        return good

    def keeps(self, order: Ints) -> bool:
        """True when one order keeps every rule."""
        return bool(self.legal(order[None, :])[0])


def sides(pool: Pool) -> npt.NDArray[np.int8]:
    """+1 above the median frequency, -1 below, 0 on it."""
    frequencies = pool.frequency_hz
    if frequencies is None:
        return np.zeros(len(pool), dtype=np.int8)
    found: npt.NDArray[np.int8] = np.sign(frequencies - np.median(frequencies)).astype(np.int8)
    return found


def _couple_enough(aim: Aim, loads: Vectors) -> float:
    """What is as good as no couple, where the search may stop at all."""
    if aim.couple_enough_g_mm2 is not None:
        return aim.couple_enough_g_mm2
    return COUPLE_SHARE * float(np.linalg.norm(loads)) if aim.spends_on_pairs else 0.0


def compile_rules(pool: Pool, limits: Limits, aim: Aim) -> Rules:
    """Rules of a pool that is a whole set; locked serials must be in it."""
    loads = [pool.moments - pool.moments.mean()]
    start = [limits.disc_g_mm]
    enough = [aim.stop_at_g_mm or 0.0]
    if pool.axial_g_mm2 is not None:
        loads.append((pool.axial_g_mm2 - pool.axial_g_mm2.mean()).astype(np.complex128))
        start.append(0j)
        enough.append(_couple_enough(aim, loads[1]))
    fixed = np.full(limits.slots, -1, dtype=np.intp)
    for slot, serial in limits.locks.items():
        fixed[slot - 1] = pool.places[serial]
    none = np.zeros(len(pool), dtype=np.int8)
    return Rules(
        loads=np.array(loads),
        start=np.array(start, dtype=np.complex128),
        enough=np.array(enough),
        radial=pool.moment_g_mm,
        side=sides(pool) if limits.alternate else none,
        fixed=fixed,
        near=limits.neighbour_g_mm,
        across=limits.opposite_g_mm,
        aim=aim,
    )

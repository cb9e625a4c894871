"""Where a set's vectors point, and whether it keeps its limits: the exact recheck.

Slot k of N stands at 2π(k-1)/N; a blade gives (r + i·t)·exp(iθ), r its radial and t its
tangential moment. ISO 21940-11 names residual and couple unbalance.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ringwright.balance.limits import Limits
from ringwright.balance.pool import Floats, Ints, Pool, Vectors


@lru_cache(maxsize=64)
def phasors(slots: int) -> Vectors:
    """Unit vectors of the slots, shape (slots,); exact on the axes."""
    found: Vectors = np.exp(2j * np.pi * np.arange(slots) / slots)
    found.real[np.abs(found.real) < 1e-15] = 0.0
    found.imag[np.abs(found.imag) < 1e-15] = 0.0
    found.flags.writeable = False
    return found


def residual(pool: Pool, order: Sequence[int] | Ints, disc_g_mm: complex = 0j) -> complex:
    """Residual vector of the order (place in the pool for slot 1 … N), g·mm.

    Summed without loss (`math.fsum`), the mean moment taken out: it cancels round the ring.
    """
    places = np.asarray(order)
    moments = pool.moments[places]
    parts = (moments - moments.mean()) * phasors(len(places))
    return complex(
        math.fsum([*parts.real.tolist(), disc_g_mm.real]),
        math.fsum([*parts.imag.tolist(), disc_g_mm.imag]),
    )


def couple(pool: Pool, order: Sequence[int] | Ints) -> complex | None:
    """Couple vector of the order from the axial moments, g·mm²; None unless all are read."""
    axial = pool.axial_g_mm2
    if axial is None:
        return None
    places = np.asarray(order)
    taken = axial[places]
    parts = (taken - taken.mean()) * phasors(len(places))
    return complex(math.fsum(parts.real.tolist()), math.fsum(parts.imag.tolist()))


def angle_deg(vector: complex) -> float:
    """Angle from slot 1 with rising slot number, in [0, 360)."""
    found = math.degrees(cmath.phase(vector)) % 360.0
    return 0.0 if found >= 360.0 else found


def neighbour_differences(moments_g_mm: Floats) -> Floats:
    """|slot k - slot k+1| round the ring, shape (N,)."""
    return np.abs(moments_g_mm - np.roll(moments_g_mm, -1))


def opposite_differences(moments_g_mm: Floats) -> Floats:
    """|slot k - slot k+N/2|, shape (N/2,); empty on an odd ring."""
    half = len(moments_g_mm) // 2
    if len(moments_g_mm) % 2:
        return np.empty(0)
    return np.abs(moments_g_mm[:half] - moments_g_mm[half:])


def alternates(frequencies_hz: Floats) -> bool:
    """True when each pair of neighbours straddles the median strictly."""
    middle = float(np.median(frequencies_hz))
    side = np.sign(frequencies_hz - middle)
    return bool(np.all(side != 0) and np.all(side == -np.roll(side, -1)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Everything a limit or a page asks of one order."""

    residual: complex
    couple: complex | None
    frequency_spread_hz: float | None
    moment_spread_g_mm: float
    neighbour_max_g_mm: float
    opposite_max_g_mm: float | None
    """None on an odd ring."""
    alternates: bool | None
    """None without frequencies."""

    @property
    def residual_g_mm(self) -> float:
        """Size of the residual."""
        return abs(self.residual)

    @property
    def residual_deg(self) -> float:
        """Where the heavy spot lies, from slot 1 with rising slot number, in [0, 360)."""
        return angle_deg(self.residual)

    @property
    def couple_g_mm2(self) -> float | None:
        """Size of the couple."""
        return None if self.couple is None else abs(self.couple)


def measure(pool: Pool, order: Sequence[int] | Ints, disc_g_mm: complex = 0j) -> Measured:
    """Measure one order of blades."""
    places = np.asarray(order)
    moments = pool.moment_g_mm[places]
    frequencies = None if pool.frequency_hz is None else pool.frequency_hz[places]
    opposite = opposite_differences(moments)
    return Measured(
        residual=residual(pool, places, disc_g_mm),
        couple=couple(pool, places),
        frequency_spread_hz=None if frequencies is None else float(np.ptp(frequencies)),
        moment_spread_g_mm=float(np.ptp(moments)),
        neighbour_max_g_mm=float(neighbour_differences(moments).max()),
        opposite_max_g_mm=float(opposite.max()) if len(opposite) else None,
        alternates=None if frequencies is None else alternates(frequencies),
    )


def broken(pool: Pool, order: Sequence[int] | Ints, limits: Limits) -> tuple[str, ...]:
    """The limits an order breaks, in words; empty when it keeps all of them."""
    found = measure(pool, order, limits.disc_g_mm)
    pairs = (
        ("frequency spread", found.frequency_spread_hz, limits.frequency_spread_hz, "Hz"),
        ("moment spread", found.moment_spread_g_mm, limits.moment_spread_g_mm, "g·mm"),
        ("neighbour difference", found.neighbour_max_g_mm, limits.neighbour_g_mm, "g·mm"),
        ("opposite difference", found.opposite_max_g_mm, limits.opposite_g_mm, "g·mm"),
    )
    told = []
    for name, value, limit, unit in pairs:
        if limit is None:
            continue
        if value is None:
            told.append(f"{name} cannot be told: a blade lacks the reading")
        elif value > limit:
            told.append(f"{name} {value:g} {unit} over {limit:g}")
    if limits.alternate and not found.alternates:
        told.append("high and low frequencies do not alternate")
    for slot, serial in limits.locks.items():
        if pool.blades[int(order[slot - 1])].serial != serial:
            told.append(f"{serial} does not stand in slot {slot}")
    return tuple(told)

"""Which blades may enter a set at all, and the limit boxes that sets lie in.

A set is any N blades inside one box, as wide as the frequency limit and as high as the moment
limit. Boxes that hold the same blades are one box, and a box whose blades all lie in another
one is not needed: what is left are the maximal limit boxes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from ringwright.balance.limits import Limits
from ringwright.balance.pool import Floats, Ints, Pool
from ringwright.core.errors import Refused

Masks: TypeAlias = npt.NDArray[np.bool_]

# A reading typed with decimals is a hair off in binary, and so is a difference of two. Sets
# keep the limit exactly as the recheck computes it; a bound must hold for either way of
# rounding, so its boxes are this much wider (relative to the readings).
SLACK = 1e-12


@dataclass(frozen=True, kw_only=True)
class Stock:
    """The blades that may enter a set; arrays run along `places`."""

    places: Ints
    """Place of each blade in the pool."""
    moment_g_mm: Floats
    frequency_hz: Floats | None
    """None when no rule asks for a frequency."""
    locked: Ints
    """Which of these blades are locked into the first set."""
    left_out: tuple[tuple[str, str], ...]
    """Serial and reason of each blade that may not enter."""

    def __len__(self) -> int:
        return len(self.places)

    def only(self, kept: Ints) -> Stock:
        """The stock of these blades alone; the locks must be among them."""
        frequency = None if self.frequency_hz is None else self.frequency_hz[kept]
        return replace(
            self,
            places=self.places[kept],
            moment_g_mm=self.moment_g_mm[kept],
            frequency_hz=frequency,
            locked=np.flatnonzero(np.isin(kept, self.locked)),
        )


def eligible(pool: Pool, limits: Limits) -> Stock:
    """The blades of the pool that may enter a set under the limits."""
    asks_frequency = limits.frequency_spread_hz is not None or limits.alternate
    locked = frozenset(limits.locks.values())
    for serial in sorted(locked - pool.places.keys()):
        raise Refused(f"{serial} is locked, but is not in the pool")
    kept, left_out = [], []
    for place, blade in enumerate(pool.blades):
        if blade.serial in limits.excluded:
            left_out.append((blade.serial, "excluded"))
        elif asks_frequency and blade.frequency_hz is None:
            if blade.serial in locked:
                raise Refused(f"{blade.serial} is locked, but has no frequency")
            left_out.append((blade.serial, "no frequency"))
        else:
            kept.append(place)
    places = np.array(kept, dtype=np.intp)
    blades = [pool.blades[place] for place in kept]
    return Stock(
        places=places,
        moment_g_mm=np.array([b.moment_g_mm for b in blades], dtype=np.float64),
        frequency_hz=np.array([b.frequency_hz for b in blades], dtype=np.float64)
        if asks_frequency
        else None,
        locked=np.flatnonzero([b.serial in locked for b in blades]),
        left_out=tuple(left_out),
    )


def moment_reach_g_mm(limits: Limits) -> float:
    """Largest moment spread a set can have: half a ring of neighbours is the longest way."""
    reach = np.inf if limits.moment_spread_g_mm is None else limits.moment_spread_g_mm
    if limits.neighbour_g_mm is not None:
        reach = min(reach, limits.neighbour_g_mm * (limits.slots // 2))
    return float(reach)


def frequency_reach_hz(limits: Limits) -> float:
    """Largest frequency spread a set can have."""
    return np.inf if limits.frequency_spread_hz is None else limits.frequency_spread_hz


def windows(values: Floats, reach: float, least: int) -> list[tuple[int, int]]:
    """Maximal runs [begin, end) of the ascending values no further apart than `reach`."""
    found = []
    ends = _ends(values, reach)
    last = 0
    for begin, end in enumerate(ends.tolist()):
        if end > last:
            last = end
            if end - begin >= least:
                found.append((begin, end))
    return found


def _ends(values: Floats, reach: float) -> Ints:
    """For each value, the end of the run that begins there, as the recheck subtracts."""
    ends: Ints = np.searchsorted(values, values + reach, side="right")
    for begin, end in enumerate(ends.tolist()):
        while end < len(values) and values[end] - values[begin] <= reach:
            end += 1
        while end - 1 > begin and values[end - 1] - values[begin] > reach:
            end -= 1
        ends[begin] = end
    return ends


def limit_boxes(
    stock: Stock, slots: int, reach_hz: float, reach_g_mm: float, *, wide: bool = False
) -> Masks:
    """The maximal limit boxes of at least `slots` blades; shape (boxes, blades), True inside.

    `wide` adds the slack a bound needs.
    """
    masks = _all_boxes(stock, slots, reach_hz, reach_g_mm, wide=wide)
    return np.asarray(masks[maximal(masks)], dtype=np.bool_)


def both_boxes(
    stock: Stock, slots: int, reach_hz: float, reach_g_mm: float
) -> tuple[Masks, Masks]:
    """The maximal limit boxes, and those with the slack a bound needs: mostly the same."""
    strict = _all_boxes(stock, slots, reach_hz, reach_g_mm, wide=False)
    wide = _all_boxes(stock, slots, reach_hz, reach_g_mm, wide=True)
    boxes = np.asarray(strict[maximal(strict)], dtype=np.bool_)
    if np.array_equal(strict, wide):
        return boxes, boxes
    return boxes, np.asarray(wide[maximal(wide)], dtype=np.bool_)


def _all_boxes(
    stock: Stock, slots: int, reach_hz: float, reach_g_mm: float, *, wide: bool
) -> Masks:
    """Boxes, among them all the maximal ones."""
    moments = stock.moment_g_mm
    if wide:
        reach_g_mm += SLACK * float(np.abs(moments).max(initial=0.0))
    order = np.argsort(moments, kind="stable")
    frequencies = stock.frequency_hz
    rows: list[Ints] = []
    for begin, end in windows(moments[order], reach_g_mm, slots):
        inside = order[begin:end]
        if frequencies is None:
            rows.append(inside)
            continue
        reach = reach_hz + (SLACK * float(np.abs(frequencies).max()) if wide else 0.0)
        inside = inside[np.argsort(frequencies[inside], kind="stable")]
        found = windows(frequencies[inside], reach, slots)
        rows.extend(inside[first:last] for first, last in found)
    return _masks(rows, len(stock))


def _masks(rows: list[Ints], blades: int) -> Masks:
    masks = np.zeros((len(rows), blades), dtype=np.bool_)
    for row, inside in enumerate(rows):
        masks[row, inside] = True
    return masks


def maximal(masks: Masks, *, at_once: int = 500) -> Masks:
    """True for the masks that lie in no other one; of equal ones, for the first."""
    dense = masks.astype(np.float32)
    sizes = dense.sum(axis=1)
    kept = np.ones(len(masks), dtype=np.bool_)
    numbers = np.arange(len(masks))
    for begin in range(0, len(masks), at_once):
        part = slice(begin, begin + at_once)
        within = (dense[part] @ dense.T) == sizes[part, None]
        larger = sizes[None, :] > sizes[part, None]
        earlier = (sizes[None, :] == sizes[part, None]) & (numbers < numbers[part, None])
        kept[part] = ~(within & (larger | earlier)).any(axis=1)
    return kept

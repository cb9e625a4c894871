"""Balance weights for a set that is fitted: which masses in which places leave least.

What one place can hold is nothing or one of the masses there are. Pairs of weights make one
cloud of vectors and pairs another; the two are matched so that they cancel what is there
(E. Horowitz and S. Sahni, Journal of the ACM 21, 1974). A residual that four weights cannot
reach is first brought within their reach by the largest masses opposite it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ringwright.balance.nearest import nearest
from ringwright.balance.pool import Ints, Vectors
from ringwright.core.errors import Refused

MOST_PAIRS = 200_000
NEAREST = 40
MOST_LISTED = 300_000
"""Ways to fill the places up to which all of them are listed."""
NOISE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """One weight in one place."""

    angle_deg: float
    """From slot 1 with rising slot number."""
    radius_mm: float
    mass_g: float

    @property
    def moment_g_mm(self) -> float:
        """What it adds."""
        return self.mass_g * self.radius_mm

    @property
    def vector(self) -> complex:
        """The same as a vector, g·mm."""
        angle = math.radians(self.angle_deg)
        return complex(self.moment_g_mm * math.cos(angle), self.moment_g_mm * math.sin(angle))


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """Weights, at most one in a place, and what remains with them."""

    weights: tuple[Weight, ...]
    remains: complex

    @property
    def remains_g_mm(self) -> float:
        """Size of what remains."""
        return abs(self.remains)


def correct(
    residual: complex,
    places: Sequence[tuple[float, float]],
    masses_g: Sequence[float],
    *,
    enough_g_mm: float = 0.0,
) -> Correction:
    """The split that leaves least; of those that leave no more than enough, the fewest weights.

    `residual` in g·mm; `places` are (angle_deg, radius_mm), one weight in each at most. Raises
    Refused without a place or a mass, or for one that cannot be.
    """
    _check(residual, places, masses_g)
    # What the arithmetic cannot tell from nothing is enough too.
    enough = max(enough_g_mm, NOISE * max(abs(residual), max(masses_g) * _widest(places)))
    if (len(set(masses_g)) + 1) ** len(places) <= MOST_LISTED:
        return _of_all(residual, places, masses_g, enough)
    return _matched(residual, places, masses_g, enough)


def _of_all(
    residual: complex,
    places: Sequence[tuple[float, float]],
    masses_g: Sequence[float],
    enough_g_mm: float,
) -> Correction:
    """Every way to fill the places, listed."""
    left = np.array([residual], dtype=np.complex128)
    count = np.zeros(1, dtype=np.intp)
    choices: list[list[Weight]] = []
    for angle, radius in places:
        choices.append(_singles([(angle, radius)], masses_g))
        steps = np.array([0j, *(weight.vector for weight in choices[-1])])
        left = (left[:, None] + steps).reshape(-1)
        count = (count[:, None] + (np.arange(len(steps)) > 0)).reshape(-1)
    over = np.maximum(np.abs(left), enough_g_mm)
    best = int(np.lexsort((np.abs(left), count, over))[0])
    shape = [len(choice) + 1 for choice in choices]
    picked = [int(n) for n in np.unravel_index(best, shape)]
    weights = tuple(choice[n - 1] for choice, n in zip(choices, picked, strict=True) if n)
    return Correction(weights=weights, remains=_left(residual, weights))


def _left(residual: complex, weights: Sequence[Weight]) -> complex:
    return residual + sum(weight.vector for weight in weights)


def _matched(
    residual: complex,
    places: Sequence[tuple[float, float]],
    masses_g: Sequence[float],
    enough_g_mm: float,
) -> Correction:
    """Up to four weights by matched clouds, after what brings the rest within their reach."""
    placed: list[Weight] = []
    left, free = residual, list(places)
    best = _finished(left, free, masses_g, placed, enough_g_mm)
    while best.remains_g_mm > enough_g_mm:
        push = _largest_against(left, free, masses_g)
        if push is None or abs(left) <= max(masses_g) * _widest(places):
            break  # four weights reach that far from any side, and were tried
        placed.append(push)
        left += push.vector
        free.remove((push.angle_deg, push.radius_mm))
        found = _finished(left, free, masses_g, placed, enough_g_mm)
        best = min(best, found, key=lambda one: one.remains_g_mm)
    for spared in placed:
        # What was put there on the way may stand in the way of a better end.
        if best.remains_g_mm <= enough_g_mm:
            break
        kept = [weight for weight in placed if weight != spared]
        again = [*free, (spared.angle_deg, spared.radius_mm)]
        found = _finished(left - spared.vector, again, masses_g, kept, enough_g_mm)
        best = min(best, found, key=lambda one: one.remains_g_mm)
    return best


def _finished(
    left: complex,
    free: Sequence[tuple[float, float]],
    masses_g: Sequence[float],
    placed: Sequence[Weight],
    enough_g_mm: float,
) -> Correction:
    """The best of nothing to four further weights, the fewest of those that are enough."""
    best = Correction(weights=tuple(placed), remains=left)
    for count in range(1, 5):
        if best.remains_g_mm <= enough_g_mm:
            break
        found = _with(left, free, masses_g, count, placed)
        if found is not None and found.remains_g_mm < best.remains_g_mm - 0.1 * enough_g_mm:
            best = found
    return best


def _check(
    residual: complex, places: Sequence[tuple[float, float]], masses_g: Sequence[float]
) -> None:
    if not (math.isfinite(residual.real) and math.isfinite(residual.imag)):
        raise Refused("the residual must be finite")
    if not places or not masses_g:
        raise Refused("a correction needs a place for weights and a mass that there is")
    if any(not (math.isfinite(a) and math.isfinite(r) and r > 0) for a, r in places):
        raise Refused("a place has an angle and a radius above 0")
    if any(not (math.isfinite(mass) and mass > 0) for mass in masses_g):
        raise Refused("masses must lie above 0")
    if len(set(places)) < len(places):
        raise Refused("a place stands twice")


def _widest(places: Sequence[tuple[float, float]]) -> float:
    return max(radius for _, radius in places)


def _largest_against(
    left: complex, free: Sequence[tuple[float, float]], masses_g: Sequence[float]
) -> Weight | None:
    """The largest mass where it takes most away; None where it would take nothing."""
    if not free:
        return None
    tried = [Weight(angle_deg=a, radius_mm=r, mass_g=max(masses_g)) for a, r in free]
    best = min(tried, key=lambda weight: abs(left + weight.vector))
    return best if abs(left + best.vector) < abs(left) else None


def _singles(free: Sequence[tuple[float, float]], masses_g: Sequence[float]) -> list[Weight]:
    return [
        Weight(angle_deg=angle, radius_mm=radius, mass_g=mass)
        for angle, radius in free
        for mass in sorted(set(masses_g))
    ]


def _with(
    left: complex,
    free: Sequence[tuple[float, float]],
    masses_g: Sequence[float],
    count: int,
    placed: Sequence[Weight],
) -> Correction | None:
    """The best of exactly `count` further weights; None where there are not so many places."""
    if len(free) < count:
        return None
    singles = _singles(free, masses_g)
    vectors = np.array([weight.vector for weight in singles])
    groups = _groups(singles, count)
    one, other = groups
    firsts, seconds = _nearest(left, vectors, one, other)
    for first, second in zip(firsts, seconds, strict=True):
        chosen = [singles[n] for n in (*one[first], *(other[second] if len(other) else ()))]
        if len({(w.angle_deg, w.radius_mm) for w in chosen}) == count:
            weights = (*placed, *chosen)
            return Correction(weights=weights, remains=_left(left, chosen))
    return None


def _groups(singles: Sequence[Weight], count: int) -> tuple[Ints, Ints]:
    """Two clouds of weights by number: (n, count//2 up) and (m, the rest)."""
    ones = np.arange(len(singles), dtype=np.intp)[:, None]
    none = np.empty((0, 0), dtype=np.intp)
    if count == 1:
        return ones, none
    if count == 2:
        return ones, ones
    pairs = np.array(
        [
            (i, j)
            for i, j in combinations(range(len(singles)), 2)
            if singles[i].angle_deg != singles[j].angle_deg
        ][:MOST_PAIRS],
        dtype=np.intp,
    )
    return pairs, ones if count == 3 else pairs


def _nearest(left: complex, vectors: Vectors, one: Ints, other: Ints) -> tuple[Ints, Ints]:
    """Couples (row of one, row of other) that leave least, best first."""
    sums = vectors[one].sum(axis=1)
    if not len(other):
        order = np.argsort(np.abs(left + sums), kind="stable")
        return order, np.zeros(len(order), dtype=np.intp)
    there = vectors[other].sum(axis=1)
    many = min(NEAREST, len(there))
    gaps, rows = nearest(there, -(left + sums), many)
    order = np.argsort(gaps, axis=None, kind="stable")[:20_000]
    return order // many, rows.reshape(-1)[order]

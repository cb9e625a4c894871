"""How many of many parts: exact counts, their doubt shared by all, and what is read off."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from ringwright.outlook.record import Floats

_TAIL: Final = 0.1
_SLIP: Final = 1e-9
"""Sums of masses are trusted to this."""


def poisson_binomial(chances: Floats) -> Floats:
    """(draws, n + 1): the distribution of the number of successes of n independent parts.

    `chances` is (draws, n). By the recursion over parts, exact; S. X. Chen and J. S. Liu,
    Statistica Sinica 7 (1997) 875-892, method of convolution.
    """
    # Who cannot make it changes no count; the size stays that of all parts.
    some = chances[:, chances.max(axis=0, initial=0.0) > 0]
    draws, parts = some.shape
    mass = np.zeros((draws, parts + 1))
    mass[:, 0] = 1.0
    for n in range(parts):
        p = some[:, n : n + 1]
        mass[:, 1 : n + 2] += p * (mass[:, : n + 1] - mass[:, 1 : n + 2])
        mass[:, 0] *= 1.0 - p[:, 0]
    return np.pad(mass, ((0, 0), (0, chances.shape[1] - parts)))


@dataclass(frozen=True, slots=True)
class Shape:
    """What the past weeks say of the spread: how far the mean is off, and how sure that is.

    `off` is added to the mean, `off_sd` is its own doubt, shared by all parts; `narrow`
    (at most 1) scales what is left about the mean.
    """

    off: float
    off_sd: float
    narrow: float


def spread_out(mass: Floats, shape: Shape, shifts: int, rng: np.random.Generator) -> Floats:
    """One distribution of the count: each draw's, moved by a congestion shared by all parts.

    Each draw is moved by `shifts` evenly likely values of the shared term and narrowed about
    its mean; mass between two whole numbers is shared by them, so that means stay.
    """
    draws, size = mass.shape
    counts = np.arange(size)
    means = mass @ counts
    places = (np.arange(draws * shifts) + 0.5) / (draws * shifts)
    normal = np.array([NormalDist().inv_cdf(place) for place in places])
    moved = shape.off + shape.off_sd * rng.permutation(normal).reshape(draws, shifts)
    whole = np.zeros(size + 1)
    for one, mean, off in zip(mass, means, moved, strict=True):
        some = np.flatnonzero(one > 1e-12)
        centre = np.clip(mean + off, 0.0, size - 1.0)
        at = centre[:, None] + shape.narrow * (counts[some] - mean)
        at = np.clip(at, 0.0, size - 1.0)
        below = at.astype(np.int64)
        part = at - below
        weight = np.broadcast_to(one[some], at.shape)
        whole += np.bincount(below.ravel(), (weight * (1.0 - part)).ravel(), size + 1)
        whole += np.bincount(below.ravel() + 1, (weight * part).ravel(), size + 1)
    found: Floats = whole[:size] / whole.sum()
    return found


def low_end(mass: Floats) -> int:
    """The largest whole number with at most a tenth of the distribution below it."""
    below = np.concatenate(([0.0], np.cumsum(mass)[:-1]))
    return int(np.flatnonzero(below <= _TAIL + _SLIP)[-1])


def high_end(mass: Floats) -> int:
    """The smallest whole number with at most a tenth of the distribution above it."""
    above = 1.0 - np.cumsum(mass)
    return int(np.flatnonzero(above <= _TAIL + _SLIP)[0])


def middle(mass: Floats) -> int:
    """The median: the smallest whole number with at least half of the distribution up to it."""
    return int(np.flatnonzero(np.cumsum(mass) >= 0.5 - _SLIP)[0])


def chance_of(mass: Floats, least: float) -> float:
    """The probability of a count of at least so many."""
    first = max(int(np.ceil(least)), 0)
    return float(min(max(mass[first:].sum(), 0.0), 1.0))


def twentieths(mass: Floats) -> tuple[int, ...]:
    """Twenty counts, each as likely as the next: the middles of twenty equal shares."""
    middles = (np.arange(20) + 0.5) / 20
    return tuple(int(k) for k in np.searchsorted(np.cumsum(mass), middles - _SLIP))

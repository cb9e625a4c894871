"""Match two clouds of vectors so that they cancel, with what is there already.

Many arrangements of one part of a ring give one cloud, those of another part the other; the
best couple of points is found through a grid, in two dimensions or, with the couple, in four.
The same idea solves subset sums: E. Horowitz and S. Sahni, Journal of the ACM 21 (1974).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from ringwright.balance.pool import Floats, Ints, Vectors
from ringwright.balance.ring_rules import Rules

Keys = npt.NDArray[np.uint64]

WANTED_IN_PLANE, WANTED_IN_SPACE = 2_000.0, 100_000.0
"""Couples of points that share a cell: few lose little to the cells' borders."""
MOST_RUN = 64
FEW, SAMPLE = 600, 2_000
MOST_FAR = 128
_MIX = (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9, 0xD6E8FEB86659FD93)


def match(
    rules: Rules, target: Vectors, one: Vectors, other: Vectors
) -> tuple[Ints, Ints, bool]:
    """Couples (place in one, place in other), best first: target + one + other near nothing.

    Clouds have shape (channels, points). A few hundred at most; never none. Last, whether
    anything came near: else they are what goes furthest that way.
    """
    width = _widths(rules, target, one, other)
    for _ in range(3):
        first, second = _same_cell(target, one, other, width)
        if len(first):
            break
        width = width * 8.0
    near = len(first) > 0
    if not near:
        first, second = _furthest(rules, target, one, other)
    score = rules.score(target[:, None] + one[:, first] + other[:, second])
    keep = np.arange(len(score))
    if len(keep) > FEW:
        keep = np.argpartition(score, FEW)[:FEW]
    keep = keep[np.argsort(score[keep], kind="stable")]
    return first[keep], second[keep], near


def _widths(rules: Rules, target: Vectors, one: Vectors, other: Vectors) -> Floats:
    """Width of a cell in each channel for about the wanted number of couples."""
    some = [cloud[:, :: max(1, cloud.shape[1] // SAMPLE)] for cloud in (one, other)]
    middle = target + some[0].mean(axis=1) + some[1].mean(axis=1)
    spread = np.maximum(some[0].var(axis=1) + some[1].var(axis=1), 1e-30)
    away = np.minimum(np.abs(middle) ** 2 / spread, 12.0)
    density = np.exp(-away) / (math.pi * spread)
    wanted = WANTED_IN_PLANE if len(target) == 1 else WANTED_IN_SPACE
    wanted = min(wanted, 2.0 * (one.shape[1] + other.shape[1]))
    share = wanted / (one.shape[1] * other.shape[1])
    floor = np.maximum(1.5 * rules.enough, rules.noise)
    narrow = np.zeros(len(target), dtype=np.bool_)
    width = floor
    for _ in range(len(target)):
        # A channel whose enough is wider than its cell leaves all the fineness to the other.
        size = np.where(narrow, floor, rules.scale)
        power = 0.5 / int((~narrow).sum())
        width = np.where(narrow, floor, size * (share / np.prod(density * size**2)) ** power)
        narrow |= width < floor
        if narrow.all() or np.all(width >= floor):
            break
    return np.maximum(width, floor)


def _cells(points: Vectors, width: Floats) -> Keys:
    """A hash of the cell each point lies in."""
    key = np.zeros(points.shape[1], dtype=np.uint64)
    for channel, size in enumerate(width):
        for part, values in enumerate((points[channel].real, points[channel].imag)):
            cell = np.floor(values / size).astype(np.int64).astype(np.uint64)
            key += cell * np.uint64(_MIX[2 * channel + part])
    key ^= key >> np.uint64(29)
    key *= np.uint64(0xBF58476D1CE4E5B9)
    return key


def _same_cell(
    target: Vectors, one: Vectors, other: Vectors, width: Floats
) -> tuple[Ints, Ints]:
    """Couples whose sum with the target lies about nothing, by one sort of both clouds.

    The place of a point rides in the low bits of its key, so that a plain sort is enough.
    """
    count, total = one.shape[1], one.shape[1] + other.shape[1]
    bits = np.uint64(max(1, math.ceil(math.log2(total + 1))))
    keys = np.concatenate([_cells(one, width), _cells(-target[:, None] - other, width)])
    keys = ((keys >> bits) << bits) | np.arange(total, dtype=np.uint64)
    keys.sort()
    cell = keys >> bits
    place = (keys & ((np.uint64(1) << bits) - np.uint64(1))).astype(np.intp)
    mine = place < count
    firsts, seconds = [], []
    for step in range(1, MOST_RUN):
        same = cell[step:] == cell[:-step]
        if not same.any():
            break
        # Within a cell the points of `one` come first, by their place.
        at = np.flatnonzero(same & mine[:-step] & ~mine[step:])
        firsts.append(place[at])
        seconds.append(place[at + step] - count)
    if not firsts:
        none = np.empty(0, dtype=np.intp)
        return none, none
    return np.concatenate(firsts), np.concatenate(seconds)


def _furthest(rules: Rules, target: Vectors, one: Vectors, other: Vectors) -> tuple[Ints, Ints]:
    """Couples that go furthest against a target too large to be cancelled."""
    pull = np.conj(target + one.mean(axis=1) + other.mean(axis=1)) / rules.scale**2
    picked = []
    for cloud in (one, other):
        along = (pull[:, None] * cloud).real.sum(axis=0)
        many = min(MOST_FAR, len(along))
        picked.append(np.argpartition(along, many - 1)[:many])
    first, second = np.repeat(picked[0], len(picked[1])), np.tile(picked[1], len(picked[0]))
    return first, second

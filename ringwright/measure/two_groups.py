"""Two groups compared: an exact test, the interval of the difference, many at once. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations
from typing import Final

import numpy as np

from ringwright.core.proportion import wilson

MOST_EXACT: Final = 5_000
"""Ways to share the loads out that are all gone through; of more, so many are drawn."""
DRAWS: Final = 1_999
SEED: Final = 1935
"""The same question gives the same answer."""
EQUAL: Final = 1e-9


def fisher(good_a: int, n_a: int, good_b: int, n_b: int) -> float:
    """Two-sided p of Fisher's exact test: all tables no likelier than the one seen.

    R. A. Fisher, Statistical Methods for Research Workers, 5th ed. (1934), section 21.02.
    ValueError where a count is no part of its n.
    """
    if not (0 <= good_a <= n_a and 0 <= good_b <= n_b and n_a and n_b):
        raise ValueError("a group has parts, and no more good ones than parts")
    good = good_a + good_b
    least, most = max(0, good - n_b), min(n_a, good)
    logs = [_log_ways(n_a, k) + _log_ways(n_b, good - k) for k in range(least, most + 1)]
    all_ways = _log_ways(n_a + n_b, good)
    seen = logs[good_a - least] - all_ways
    chances = (log - all_ways for log in logs)
    return min(1.0, math.fsum(math.exp(one) for one in chances if one <= seen + 1e-7))


def _log_ways(n: int, k: int) -> float:
    return math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)


def newcombe(good_a: float, n_a: int, good_b: float, n_b: int) -> tuple[float, float]:
    """95 % interval of share a less share b: the hybrid score method.

    R. G. Newcombe, Statistics in Medicine 17 (1998) 873, method 10: from both Wilson intervals.
    Where parts share a fate the n are loads, as for `wilson`.
    """
    a, b = good_a / n_a, good_b / n_b
    (low_a, high_a), (low_b, high_b) = wilson(good_a, n_a), wilson(good_b, n_b)
    down = math.hypot(a - low_a, high_b - b)
    up = math.hypot(high_a - a, b - low_b)
    return max(-1.0, a - b - down), min(1.0, a - b + up)


def by_loads(a: Sequence[tuple[int, int]], b: Sequence[tuple[int, int]]) -> float:
    """Two-sided p where whole loads are shared out anew between the groups.

    Each load is (good, parts). The measure is the difference of the shares of parts; parts of
    one load stay together, since they share a fate. Exact where there are few ways, else drawn
    (E. J. G. Pitman, Supplement to the J. Royal Statistical Society 4 (1937) 119).
    """
    loads = np.array([*a, *b], dtype=float)
    seen = abs(_apart(loads, np.arange(len(a))[None, :])[0])
    if math.comb(len(loads), len(a)) <= MOST_EXACT:
        chosen = np.array(list(combinations(range(len(loads)), len(a))))
        return float(np.mean(np.abs(_apart(loads, chosen)) >= seen - EQUAL))
    random = np.random.default_rng(SEED)
    order = random.random((DRAWS, len(loads))).argsort(axis=1)[:, : len(a)]
    as_far = int(np.sum(np.abs(_apart(loads, order)) >= seen - EQUAL))
    # The order that was seen is one of them (B. Phipson and G. K. Smyth, 2010).
    return (as_far + 1) / (DRAWS + 1)


def _apart(loads: np.ndarray, chosen: np.ndarray) -> np.ndarray:
    """Difference of the shares for each choice of loads; one row of places a choice."""
    good, parts = loads[:, 0], loads[:, 1]
    good_a, n_a = good[chosen].sum(axis=1), parts[chosen].sum(axis=1)
    apart: np.ndarray = good_a / n_a - (good.sum() - good_a) / (parts.sum() - n_a)
    return apart


def holm(chances: Sequence[float]) -> list[float]:
    """Each p made good for all the others asked at once.

    S. Holm, Scandinavian Journal of Statistics 6 (1979) 65.
    """
    order = sorted(range(len(chances)), key=lambda place: chances[place])
    found, least = [0.0] * len(chances), 0.0
    for rank, place in enumerate(order):
        least = max(least, min(1.0, (len(chances) - rank) * chances[place]))
        found[place] = least
    return found

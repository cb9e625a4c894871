"""The past weeks asked again: what would have been said of each, against what came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ringwright.outlook.counts import Shape
from ringwright.outlook.record import Floats

_SLOPE_SD: Final = 0.5
"""Doubt, before any week is seen, of how far more parts in work mean more out."""
_OFF_SHARE: Final = 0.25
"""Doubt, before any week is seen, of the mean, as a share of it."""
_WEEKS: Final = 4.0
"""Weeks' worth of belief that parts leave independently."""
_HALF_WEEKS: Final = 8.0
"""A week so much older says half as much about how far off the forecast is now."""
_FLOOR: Final = 0.25
"""Variance of a count by rounding alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One past week asked at the same hour: expected, its variance, and what came."""

    mean: float
    variance: float
    came: int


def shape_of(asked: Sequence[Asked], mean: float, variance: float) -> Shape:
    """How far such forecasts were off in the past weeks, and how widely they strayed.

    What came is taken as expected + off + slope (expected - its mean), with noise of a
    variance in proportion to that of independent parts: Bayesian linear regression
    (A. Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, ch. 14), the proportion by its
    own few rounds. A line that is full gives no more for more parts in work: slope -1.
    """
    if not asked:
        ratio = 1.5
        doubt = (_OFF_SHARE * mean) ** 2
        return _shaped(0.0, doubt, ratio, variance)
    expected = np.array([one.mean for one in asked])
    spread: Floats = np.array([one.variance for one in asked]) + _FLOOR
    miss = np.array([one.came for one in asked]) - expected
    about = float(expected.mean())
    design = np.column_stack((np.ones(len(miss)), expected - about))
    prior = np.diag([1.0 / (_OFF_SHARE * about + 0.5) ** 2, 1.0 / _SLOPE_SD**2])
    fresh: Floats = 0.5 ** (np.arange(len(miss)) / _HALF_WEEKS)
    ratio = 1.0
    for _ in range(4):
        weight: Floats = fresh / (ratio * spread)
        cover = np.linalg.inv(prior + (design * weight[:, None]).T @ design)
        line = cover @ (design.T @ (weight * miss))
        ratio = _ratio(miss - design @ line, spread, design, cover, weight)
    reach = float(np.clip(mean, 0.5 * expected.min(), 1.5 * expected.max() + 1.0) - about)
    here = np.array([1.0, reach])
    return _shaped(float(here @ line), float(here @ cover @ here), ratio, variance)


def _ratio(rest: Floats, spread: Floats, design: Floats, cover: Any, weight: Floats) -> float:
    """Noise over that of independent parts, what the line itself explained taken out."""
    used = float(np.einsum("ni,ij,nj,n->", design, cover, design, weight))
    free = max(len(rest) - used, 1.0)
    return float((_WEEKS + (rest**2 / spread).sum()) / (_WEEKS + free))


def _shaped(off: float, doubt: float, ratio: float, variance: float) -> Shape:
    wanted = max(ratio * (variance + _FLOOR) - _FLOOR, 0.0)
    narrow = float(np.sqrt(min(wanted / variance, 1.0))) if variance > 0 else 1.0
    shared = max(wanted - variance, 0.0) + doubt
    return Shape(off, float(np.sqrt(shared)), narrow)

"""How soon a part that comes to a step leaves by the last one: first passages of a route.

A part's way is a chain of stays. With D the transform of the stays of each step, P where their
visits went and r the share released, the transform F of the time to release solves
F = D (r + P F), loops of rework included; one small linear system for each frequency.
Source: W. Feller, An Introduction to Probability Theory, vol. II, 2nd ed. 1971, ch. XIII
(transforms of first passages); the damping against what comes round again is that of
J. Abate and W. Whitt, Queueing Systems 10 (1992) 5-88.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ringwright.outlook.record import Flags, Floats, Ints
from ringwright.outlook.stays import Learned

BINS: Final = 120
_DAMPING: Final = 14.0


@dataclass(frozen=True, slots=True)
class Passages:
    """Chances to be out within so many bins, for each draw of the parameters.

    `fresh` is (draws, steps, bins + 1) from the moment a part comes to a step, `after` the
    same from the moment its visit there ends.
    """

    bin_h: float
    fresh: Floats
    after: Floats
    weights: tuple[Floats, ...]
    """Of each step, (draws, visits): how much each kept visit counts in each draw."""


def passages(
    learned: Learned, horizon_h: float, rng: np.random.Generator | None, draws: int
) -> Passages:
    """Chances to be out within the horizon [working h], one answer for each draw.

    Without a generator every visit counts alike. With one, visits and where they went are
    weighed anew in each draw (the Bayesian bootstrap; D. B. Rubin, Annals of Statistics 9,
    1981, 130-134), so that few visits leave more doubt than many.
    """
    steps = len(learned.stays)
    bin_h = max(horizon_h, 1e-6) / BINS
    weights = tuple(_weights(len(stay.queue_h), rng, draws) for stay in learned.stays)
    lasts = np.stack(
        [
            _lasting((stay.queue_h + stay.work_h) / bin_h, weight)
            for stay, weight in zip(learned.stays, weights, strict=True)
        ],
        axis=1,
    )
    onward = _shares(learned.onward, rng, draws)
    on, out = onward[:, :, :steps], onward[:, :, steps]
    fresh = _solved(lasts, on, out)
    after = out[:, :, None] + on @ fresh
    return Passages(bin_h, fresh, np.minimum(after, 1.0), weights)


def _weights(visits: int, rng: np.random.Generator | None, draws: int) -> Floats:
    if rng is None:
        return np.full((draws, visits), 1.0 / visits)
    raw = rng.standard_exponential((draws, visits))
    found: Floats = raw / raw.sum(axis=1, keepdims=True)
    return found


def _shares(counts: Floats, rng: np.random.Generator | None, draws: int) -> Floats:
    """Where visits go, (draws, steps, steps + 2); each row adds up to one."""
    raw = np.broadcast_to(counts, (draws, *counts.shape))
    if rng is not None:
        raw = rng.standard_gamma(raw)
    found: Floats = raw / np.maximum(raw.sum(axis=2, keepdims=True), 1e-300)
    return found


def _lasting(stay_bins: Floats, weights: Floats) -> Floats:
    """Weighted stays laid on the bins, each shared between its two neighbours: means stay."""
    first = np.minimum(stay_bins, BINS + 1).astype(np.int64)
    part = np.clip(stay_bins - first, 0.0, 1.0)
    found = np.empty((len(weights), BINS + 1))
    for draw, weight in enumerate(weights):
        laid = np.bincount(first, weight * (1.0 - part), BINS + 3)
        laid += np.bincount(first + 1, weight * part, BINS + 3)
        found[draw] = laid[: BINS + 1]
    return found


def _solved(lasts: Floats, on: Floats, out: Floats) -> Floats:
    """The distribution of the time to release from each step, (draws, steps, bins + 1)."""
    length = 1 << (2 * BINS + 1).bit_length()
    damped = np.exp(-_DAMPING / length * np.arange(BINS + 1))
    stay = np.fft.rfft(lasts * damped, length, axis=2).transpose(0, 2, 1)
    whole = np.eye(on.shape[1]) - stay[..., None] * on[:, None]
    passed = np.linalg.solve(whole, (stay * out[:, None])[..., None])[..., 0]
    falls = np.fft.irfft(passed, length, axis=1)[:, : BINS + 1] / damped[:, None]
    found: Floats = np.clip(np.cumsum(falls, axis=1), 0.0, 1.0).transpose(0, 2, 1)
    return found


def read_bins(left_bins: Floats) -> tuple[Ints, Floats, Flags]:
    """Where to read a curve: the bin below, the share of the next one, whether at all."""
    place = np.clip(left_bins, 0.0, BINS)
    below = np.minimum(place.astype(np.int64), BINS - 1)
    return below, place - below, left_bins > 0

"""First guesses of modes too close for a spectrum: the matrix pencil.

Y. Hua, T. K. Sarkar, "Matrix pencil method for estimating parameters of exponentially damped or
undamped sinusoids in noise", IEEE Trans. ASSP 38(5), 1990, 814-824.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ringwright.tap.decay import Complexes, Floats

# So many samples of the shifted band at most: enough to part neighbours, quick to decompose.
MOST_POINTS: Final = 256
TAPS_A_STEP: Final = 4


def shifted_band(samples: Floats, centre: float, half_width: float) -> tuple[Complexes, int]:
    """The band around `centre` moved to zero and thinned: (points, step).

    Centre and half width in cycles a sample. Each point is a weighted sum of samples inside the
    record, so a decaying oscillation stays one, exactly: its exponent is `step` times larger.
    """
    step = max(1, int(0.3 / max(half_width, 1e-9)))
    step = min(step, max(1, len(samples) // 24))
    points = len(samples) // step - TAPS_A_STEP + 1
    if step == 1 or points < 8:
        return samples * np.exp(-2j * np.pi * centre * np.arange(len(samples))), 1
    whole = (points + TAPS_A_STEP - 1) * step
    turned = samples[:whole] * np.exp(-2j * np.pi * centre * np.arange(whole))
    window = np.hanning(TAPS_A_STEP * step + 2)[1:-1].reshape(TAPS_A_STEP, step)
    blocks = turned.reshape(-1, step)
    parts = blocks @ window.T
    band = sum(parts[at : at + points, at] for at in range(TAPS_A_STEP))
    return np.asarray(band, dtype=np.complex128) / window.sum(), step


def exponents(points: Complexes, most: int) -> tuple[Complexes, Complexes]:
    """Left singular vectors (columns) of the points' Hankel matrix, and its singular values."""
    points = points[:MOST_POINTS]
    length = max(most + 2, (2 * len(points)) // 5)
    rows = np.lib.stride_tricks.sliding_window_view(points, length).T
    vectors, sizes, _ = np.linalg.svd(rows, full_matrices=False)
    return vectors, sizes


def guesses(vectors: Complexes, order: int) -> Complexes:
    """The exponents, a point, of the strongest `order` directions; shape (order,)."""
    strong = vectors[:, :order]
    shift, *_ = np.linalg.lstsq(strong[:-1], strong[1:], rcond=None)
    return np.log(np.linalg.eigvals(shift).astype(np.complex128) + 1e-300)

"""All modes of a band fitted at once, in the spectrum, by non-linear least squares.

White noise stays white from bin to bin of an unwindowed transform, and noise of any colour is
nearly white within a band, so the least-squares fit is the most likely one and its covariance
reaches the Cramer-Rao bound (S. M. Kay, "Fundamentals of Statistical Signal Processing:
Estimation Theory", 1993, section 3.9 and chapter 7).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import least_squares

from ringwright.tap.decay import Complexes, Floats, Oscillation, transform

A_MODE: Final = 4
EDGES: Final = 2
ROUNDS: Final = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Bins of the transform of `count` samples, of what is left when other bands are out."""

    bins: Floats
    data: Complexes
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """What fits a band best with so many modes."""

    modes: tuple[Oscillation, ...]
    covariance: Floats
    """Of (decay, turn) a sample of each mode in turn, shape (2 modes, 2 modes)."""
    noise: float
    """Mean power of the noise in a bin."""
    criterion: float
    """Bayesian information criterion; smaller is better (G. Schwarz, Ann. Statist. 6, 1978)."""


def fit(band: Band, starts: Sequence[complex], margin: float = 0.0) -> Fit | None:
    """Fit as many modes as there are starts (exponents a sample); None where none settles.

    `margin` is asked of every mode on top of the criterion's own price.
    """
    scale = float(np.max(np.abs(band.data))) or 1.0
    problem = _Problem(band, scale)
    if not starts:
        return problem.without()
    shapes = np.array([[s.real * band.count, s.imag * band.count] for s in starts])
    first = problem.with_sizes(shapes)
    try:
        found = least_squares(
            problem.off, first, problem.slopes, method="lm", x_scale="jac", max_nfev=ROUNDS
        )
    except (ValueError, np.linalg.LinAlgError):
        return None
    return problem.read(found.x, margin) if np.isfinite(found.x).all() else None


class _Problem:
    """Residuals and their slopes; parameters a mode: decay and turn a record, size (re, im)."""

    def __init__(self, band: Band, scale: float) -> None:
        self.band = band
        self.scale = scale
        self.data = _stacked(band.data / scale)
        # What jumps from the record's end to its beginning (handling noise, a drifting zero)
        # leaks everywhere in this shape, the transform of a ramp, and its square.
        ramp = 1.0 / (1.0 - np.exp(-2j * np.pi * band.bins / band.count))
        shapes = (ramp, ramp * ramp)
        self.edges = np.stack([_stacked(e / np.max(np.abs(e))) for e in shapes], axis=1)

    def columns(self, shape: Floats) -> tuple[Complexes, Complexes, Complexes, Complexes]:
        count = self.band.count
        exponent = complex(shape[0], shape[1]) / count
        near, near_slope = transform(exponent, self.band.bins, count)
        far, far_slope = transform(exponent.conjugate(), self.band.bins, count)
        half = 0.5 / count
        return half * near, half * far, half * near_slope / count, half * far_slope / count

    def with_sizes(self, shapes: Floats) -> Floats:
        """Parameters with the sizes that fit best for these decays and turns."""
        columns = []
        for shape in shapes:
            near, far, _, _ = self.columns(shape)
            columns += [_stacked(near + far), _stacked(1j * (near - far))]
        basis = np.column_stack([*columns, self.edges])
        sizes, *_ = np.linalg.lstsq(basis, self.data, rcond=None)
        modes = np.column_stack([shapes, sizes[:-EDGES].reshape(-1, 2)])
        return np.concatenate([modes.reshape(-1), sizes[-EDGES:]])

    def off(self, given: Floats) -> Floats:
        """Model less data, stacked real parts then imaginary ones."""
        model: Floats = self.edges @ given[-EDGES:]
        for one in given[:-EDGES].reshape(-1, A_MODE):
            near, far, _, _ = self.columns(one)
            size = complex(one[2], one[3])
            model = model + _stacked(size * near + size.conjugate() * far)
        return model - self.data

    def slopes(self, given: Floats) -> Floats:
        """The residuals' derivatives, shape (rows, parameters)."""
        columns: list[Floats] = []
        for one in given[:-EDGES].reshape(-1, A_MODE):
            near, far, near_slope, far_slope = self.columns(one)
            size = complex(one[2], one[3])
            mine, other = size * near_slope, size.conjugate() * far_slope
            columns += [
                _stacked(mine + other),
                _stacked(1j * (mine - other)),
                _stacked(near + far),
                _stacked(1j * (near - far)),
            ]
        return np.column_stack([*columns, self.edges])

    def without(self) -> Fit:
        """The band with no mode at all: what any mode has to beat."""
        sizes, *_ = np.linalg.lstsq(self.edges, self.data, rcond=None)
        return self._fit((), np.zeros((0, 0)), self.edges @ sizes - self.data, EDGES, 0.0)

    def read(self, found: Floats, margin: float) -> Fit | None:
        off, slopes = self.off(found), self.slopes(found)
        count = self.band.count
        modes = tuple(
            Oscillation(
                exponent=complex(one[0], one[1]) / count,
                size=complex(one[2], one[3]) * self.scale / count,
            )
            for one in found[:-EDGES].reshape(-1, A_MODE)
        )
        free = len(off) - len(found)
        if free <= 0:
            return None
        lengths = np.linalg.norm(slopes, axis=0) + 1e-300
        inner = np.linalg.pinv((slopes / lengths).T @ (slopes / lengths), hermitian=True)
        whole = inner / np.outer(lengths, lengths) * float(off @ off) / free
        at = [A_MODE * n + part for n in range(len(modes)) for part in (0, 1)]
        covariance = whole[np.ix_(at, at)] / count**2
        return self._fit(modes, covariance, off, len(found), margin * len(modes))

    def _fit(
        self,
        modes: tuple[Oscillation, ...],
        covariance: Floats,
        off: Floats,
        parameters: int,
        margin: float,
    ) -> Fit:
        rows, left = len(off), float(off @ off) + 1e-300
        noise = 2 * left / max(1, rows - parameters) * self.scale**2
        price = parameters * np.log(rows) + margin
        return Fit(
            modes=modes,
            covariance=covariance,
            noise=noise,
            criterion=rows * float(np.log(left / rows)) + price,
        )


def _stacked(values: Complexes) -> Floats:
    return np.concatenate([values.real, values.imag])

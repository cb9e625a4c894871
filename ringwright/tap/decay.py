"""The transform of a ring: what a decaying oscillation looks like in a finite spectrum.

A mode is x[n] = Re(c exp(s n)), n = 0 … N-1, with s = (-alpha + i omega) / rate. The discrete
transform of exp(s n) at bin k is a geometric sum, (1 - exp(s N)) / (1 - exp(s - 2 pi i k/N)).
It is exact for a record of any length, so nothing is lost to leakage or to a window.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

Floats: TypeAlias = npt.NDArray[np.float64]
Complexes: TypeAlias = npt.NDArray[np.complex128]

# Nearer to the pole than this the quotient loses its digits and its series is exact.
NEAR: Final = 1e-2
# A fit may wander; beyond this the exponential overflows and means nothing.
MOST_GROWTH: Final = 200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Oscillation:
    """One decaying oscillation from the first sample of a tap on: Re(c exp(s n))."""

    exponent: complex
    """s: per sample, real part -alpha/rate, imaginary part omega/rate."""
    size: complex
    """c: the size and phase at the first sample."""

    def at(self, count: int) -> Floats:
        """Its samples, shape (count,)."""
        # What has fallen by exp(-40) is far under any noise.
        sounds = count
        if self.exponent.real < 0:
            sounds = min(count, int(-40.0 / self.exponent.real) + 1)
        block = int(np.ceil(np.sqrt(sounds)))
        inner = np.exp(self.exponent * np.arange(block))
        outer = self.size * np.exp(self.exponent * block * np.arange(block))
        samples = np.zeros(count)
        samples[:sounds] = np.real(np.multiply.outer(outer, inner)).reshape(-1)[:sounds]
        return samples

    def spectrum(self, bins: Floats, count: int) -> Complexes:
        """Its discrete transform at these bins of a record of `count` samples."""
        near, _ = transform(self.exponent, bins, count)
        far, _ = transform(self.exponent.conjugate(), bins, count)
        return 0.5 * (self.size * near + self.size.conjugate() * far)


def transform(exponent: complex, bins: Floats, count: int) -> tuple[Complexes, Complexes]:
    """The transform of exp(s n) at the bins, and its derivative by s; both shaped as bins."""
    held = complex(min(exponent.real, MOST_GROWTH / count), exponent.imag)
    turn = held - 2j * np.pi * bins / count
    # Whole turns change nothing; near a pole the difference must keep its digits.
    turn = turn.real + 1j * (np.mod(turn.imag + np.pi, 2 * np.pi) - np.pi)
    near = np.abs(turn) * count < NEAR
    safe = np.where(near, 1.0, turn)
    grown = np.exp(held * count)
    one = np.expm1(safe)
    value = (grown - 1.0) / one
    slope = (count * grown - value * (one + 1.0)) / one
    if near.any():
        u, n = turn[near], float(count)
        value[near] = n * (1 + (n - 1) * u / 2 + (n - 1) * (2 * n - 1) * u * u / 12)
        slope[near] = n * ((n - 1) / 2 + (n - 1) * (2 * n - 1) * u / 6)
    return value, slope

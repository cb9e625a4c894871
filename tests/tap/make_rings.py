"""Rings of known modes, and the bound no estimate of them can beat; nothing of ours in it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
RATE = 48_000
# (damped frequency Hz, decay 1/s, amplitude, phase rad)
Known = tuple[float, float, float, float]


def ring(modes: list[Known], noise: float = 0.0, seconds: float = 1.0, seed: int = 1) -> Floats:
    """Decaying oscillations from the first sample on, in white noise of this deviation."""
    count = int(seconds * RATE)
    t = np.arange(count) / RATE
    clean = np.zeros(count)
    for f, decay, size, phase in modes:
        clean += size * np.exp(-decay * t) * np.cos(2 * np.pi * f * t + phase)
    return clean + noise * np.random.default_rng(seed).standard_normal(count)


def natural_hz(mode: Known) -> float:
    """sqrt(f_d^2 + (decay / 2 pi)^2): the undamped natural frequency."""
    return float(np.hypot(mode[0], mode[1] / (2 * np.pi)))


def bound_hz(modes: list[Known], noise: float, seconds: float = 1.0) -> Floats:
    """Cramer-Rao bound of each frequency: sigma^2 inv(J'J), white Gaussian noise.

    S. M. Kay, "Fundamentals of Statistical Signal Processing: Estimation Theory", 1993,
    section 3.9 (general Gaussian case). J is differentiated by hand, per mode by frequency,
    decay, amplitude and phase.
    """
    t = np.arange(int(seconds * RATE)) / RATE
    columns = []
    for f, decay, size, phase in modes:
        fall, angle = np.exp(-decay * t), 2 * np.pi * f * t + phase
        columns += [
            -2 * np.pi * t * size * fall * np.sin(angle),
            -t * size * fall * np.cos(angle),
            fall * np.cos(angle),
            -size * fall * np.sin(angle),
        ]
    slopes = np.stack(columns, axis=1)
    lengths = np.linalg.norm(slopes, axis=0)
    inner = np.linalg.inv((slopes / lengths).T @ (slopes / lengths))
    bound: Floats = noise * np.sqrt(np.diag(inner)) / lengths
    return bound[::4]


def noise_for(snr_db: float) -> float:
    """The deviation of noise that a unit amplitude stands so many dB over at its start."""
    return float(10 ** (-snr_db / 20) / np.sqrt(2))

"""The ring test against what lies outside: bounds, beams, standards."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ringwright.tap.answer import Answer, analyse
from ringwright.tap.recording import Recording
from tests.tap.make_rings import RATE, Floats, Known, bound_hz, natural_hz, noise_for, ring


def hear(*channels: Floats) -> Answer:
    return analyse(Recording(samples=np.stack(channels), sample_rate_hz=float(RATE)))


def pair(f: float, decay: float) -> list[Known]:
    return [(f, decay, 1.0, 0.4), (1.01 * f, 1.1 * decay, 0.7, 2.0)]


@pytest.mark.parametrize("snr_db", [20.0, 40.0, 60.0])
@pytest.mark.parametrize(
    "modes",
    [[(211.3, 2.0, 1.0, 0.4)], [(1870.6, 12.0, 1.0, 1.9)], pair(260.7, 1.0), pair(1430.2, 6.0)],
    ids=["low", "high", "low pair", "high pair"],
)
def test_the_error_stays_within_three_times_the_bound(
    modes: list[Known], snr_db: float
) -> None:
    noise = noise_for(snr_db)
    bounds = bound_hz(modes, noise)

    for seed in (11, 12, 13):
        found = hear(ring(modes, noise, seed=seed)).modes
        assert len(found) == len(modes)
        for mode, known, bound in zip(found, modes, bounds, strict=True):
            assert abs(mode.frequency_hz - natural_hz(known)) < 3 * bound
            assert 0.7 < mode.uncertainty_hz / bound < 1.5


def test_the_bound_itself_is_the_published_one_without_decay() -> None:
    # var(f) >= 12 rate^2 / ((2 pi)^2 snr N (N^2 - 1)), snr = A^2 / 2 sigma^2:
    # S. M. Kay, 1993, example 3.14, eq. 3.41 (from memory).
    count, snr = RATE, 100.0
    published = math.sqrt(12 / ((2 * math.pi) ** 2 * snr * count * (count**2 - 1))) * RATE

    # With the decay unknown too the bound of an undamped tone does not move: they are
    # orthogonal when nothing decays.
    ours = bound_hz([(1000.3, 0.0, 1.0, 0.7)], noise_for(20.0))[0]

    assert ours == pytest.approx(published, rel=1e-3)


def test_a_cantilever_rings_in_the_ratios_of_its_roots() -> None:
    # Roots beta L of cos x cosh x = -1, Euler-Bernoulli: 1.8751, 4.6941, 7.8548 (R. D. Blevins,
    # "Formulas for Natural Frequency and Mode Shape", 1979, table 8-1). f ~ (beta L)^2.
    roots = np.array([1.8751040687, 4.6940911330, 7.8547574382])
    modes = [
        (45.4859 * (root / roots[0]) ** 2, decay, size, 0.3)
        for root, decay, size in zip(roots, (0.6, 2.0, 5.0), (1.0, 0.5, 0.3), strict=True)
    ]

    found = [mode.frequency_hz for mode in hear(ring(modes, noise_for(40), 2.0)).modes]

    assert len(found) == 3
    assert np.array(found[1:]) / found[0] == pytest.approx([6.266893, 17.547482], rel=1e-4)


def test_a_bar_gives_its_modulus_by_astm_e1876() -> None:
    # ASTM E1876: E = 0.9465 (m f^2 / b) (L^3 / t^3) T1; the bar of its worked relation with
    # T1 = 1.01177614, E = 114.71375 GPa at 2080 Hz.
    mass_kg, width_m, thick_m, length_m, t1 = 0.03544, 0.02, 0.004, 0.1, 1.01177614

    f = hear(ring([(2080.0, 8.0, 1.0, 0.2)], noise_for(40))).modes[0].frequency_hz
    modulus = 0.9465 * mass_kg * f**2 / width_m * (length_m / thick_m) ** 3 * t1

    assert modulus / 1e9 == pytest.approx(114.71375, rel=1e-5)


@pytest.mark.parametrize(
    ("zeta", "amplitude_after_10"),
    [(0.001, 0.93910134), (0.01, 0.53347133), (0.05, 0.04304423)],
)
def test_the_damping_is_that_of_the_logarithmic_decrement(
    zeta: float, amplitude_after_10: float
) -> None:
    # delta = 2 pi zeta / sqrt(1 - zeta^2), x_10 / x_0 = exp(-10 delta): any text on vibration,
    # such as S. S. Rao, "Mechanical Vibrations", section 2.6.3.
    f = 300.0
    decay = -f * math.log(amplitude_after_10) / 10

    found = hear(ring([(f, decay, 1.0, 0.5)], noise_for(40))).modes[0]

    assert found.damping_ratio == pytest.approx(zeta, rel=5e-3)
    assert found.frequency_hz == pytest.approx(f / math.sqrt(1 - zeta**2), abs=0.2)

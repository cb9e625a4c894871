"""What the readings leave open, against simulation and hand-worked figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import rayleigh

from ringwright.balance.uncertainty import (
    MEAN_FACTOR,
    NOT_ENTERED,
    P95_FACTOR,
    Floor,
    uncertainty_of,
)
from ringwright.balance.vectors import phasors
from tests.balance.pools import pool_of

TWENTY = pool_of([120_000.0] * 20)


def test_the_scale_s_part_is_u_times_the_root_of_n() -> None:
    """2 g·mm on each of 20 blades is 8.94 g·mm: squares of independent errors add (GUM 5.1)."""
    found = uncertainty_of(TWENTY, range(20), Floor(moment_u_g_mm=2.0))

    assert found is not None
    assert found.rms_g_mm == pytest.approx(2.0 * math.sqrt(20))
    assert found.stop_at_g_mm == pytest.approx(found.rms_g_mm / 4)
    assert found.scale_only


def test_a_hundredth_of_a_degree_of_slot_angle_outweighs_the_scale() -> None:
    """120,000 g·mm across 0.01° over 20 slots is 94 g·mm (computed by hand: m·δθ·√n)."""
    floor = Floor(moment_u_g_mm=2.0, slot_angle_u_deg=0.01, seating_u_g_mm=3.0)
    found = uncertainty_of(TWENTY, range(20), floor)

    assert found is not None
    assert found.slot_angle_g_mm == pytest.approx(93.66, abs=0.005)
    assert found.seating_g_mm == pytest.approx(3.0 * math.sqrt(20))
    assert found.rms_g_mm == pytest.approx(math.hypot(93.66, 8.944, 13.416), abs=0.01)
    assert not found.scale_only


def test_a_blade_s_own_uncertainty_goes_before_the_scale_s() -> None:
    pool = pool_of([100.0, 101.0], moment_u_g_mm=[3.0, 4.0])

    found = uncertainty_of(pool, [0, 1], Floor(moment_u_g_mm=99.0))

    assert found is not None
    assert found.rms_g_mm == pytest.approx(5.0)


def test_without_a_scale_nothing_is_claimed() -> None:
    assert uncertainty_of(TWENTY, range(20), NOT_ENTERED) is None
    assert uncertainty_of(TWENTY, range(20), Floor(slot_angle_u_deg=0.01)) is None


def test_mean_and_95_point_are_those_of_the_rayleigh_distribution() -> None:
    """scipy.stats.rayleigh with the scale R/√2."""
    of_one = rayleigh(scale=1 / math.sqrt(2))

    assert pytest.approx(of_one.mean()) == MEAN_FACTOR
    assert pytest.approx(of_one.ppf(0.95)) == P95_FACTOR
    assert (round(MEAN_FACTOR, 3), round(P95_FACTOR, 3)) == (0.886, 1.731)


def test_simulated_errors_leave_what_is_claimed() -> None:
    """20,000 rings that are perfect on paper, with errors of scale and angle drawn for each."""
    chance = np.random.default_rng(4)
    radial = chance.normal(0.0, 2.0, (20_000, 20))
    across = 120_000.0 * np.radians(chance.normal(0.0, 0.001, (20_000, 20)))
    sizes = np.abs(((radial + 1j * across) * phasors(20)).sum(axis=1))

    floor = Floor(moment_u_g_mm=2.0, slot_angle_u_deg=0.001)
    found = uncertainty_of(TWENTY, range(20), floor)

    assert found is not None
    assert np.sqrt((sizes**2).mean()) == pytest.approx(found.rms_g_mm, rel=0.02)
    assert sizes.mean() == pytest.approx(found.mean_g_mm, rel=0.02)
    assert (sizes > found.p95_g_mm).mean() == pytest.approx(0.05, abs=0.006)


def test_a_quarter_of_the_floor_costs_three_in_a_hundred() -> None:
    """√(1 + 1/16) = 1.0308."""
    assert math.hypot(1.0, 0.25) == pytest.approx(1.0308, abs=1e-4)

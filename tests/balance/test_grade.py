"""Permissible residual unbalance by the formula of ISO 21940-11."""

from __future__ import annotations

import pytest

from ringwright.balance.grade import (
    compare,
    permissible_eccentricity_um,
    permissible_g_mm,
)


def test_g_2_5_at_3000_is_8_micrometres() -> None:
    """e_per = 1000·G/Ω: 7.958 µm (formula of ISO 21940-11, worked by hand)."""
    assert permissible_eccentricity_um(2.5, 3000) == pytest.approx(7.958, abs=5e-4)


@pytest.mark.parametrize(
    ("grade", "mass", "speed", "expected"),
    [
        (6.3, 60, 3500, 1031.3),  # formula of ISO 21940-11
        (2.5, 100, 3000, 795.775),  # the same; the rounded constant 9549 gives 795.75
    ],
)
def test_a_permissible_unbalance_follows_the_standard_s_formula(
    grade: float, mass: float, speed: float, expected: float
) -> None:
    assert permissible_g_mm(grade, mass, speed) == pytest.approx(expected, abs=0.05)


def test_a_residual_is_compared_with_its_uncertainty_on_top() -> None:
    found = compare(900.0, 2_360.0, 4_000.0)

    assert found is not None
    assert (found.used_g_mm, found.within) == (3_260.0, True)
    over = compare(1_700.0, 2_360.0, 4_000.0)
    assert over is not None
    assert not over.within


@pytest.mark.parametrize(("p95", "share"), [(None, 4_000.0), (10.0, None)])
def test_without_a_share_or_an_uncertainty_there_is_no_comparison(
    p95: float | None, share: float | None
) -> None:
    assert compare(1.0, p95, share) is None

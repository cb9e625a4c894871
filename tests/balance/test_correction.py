"""Balance weights against trying everything, and what no weight can reach."""

from __future__ import annotations

from itertools import product

import pytest

from ringwright.balance.correction import Weight, correct
from ringwright.core.errors import Refused

PLACES = [(0.0, 100.0), (80.0, 100.0), (150.0, 100.0), (210.0, 100.0), (290.0, 120.0)]
MASSES = [1.0, 2.0, 5.0]


def best_of_all(residual: complex) -> float:
    """The least that any choice of nothing or one mass in each place leaves."""
    choices = [
        [0j, *(Weight(angle_deg=a, radius_mm=r, mass_g=m).vector for m in MASSES)]
        for a, r in PLACES
    ]
    return min(abs(residual + sum(chosen)) for chosen in product(*choices))


@pytest.mark.parametrize("residual", [30 + 40j, -210 + 15j, 77 - 390j, 512 + 3j, 0.4 - 0.3j])
def test_weights_leave_what_trying_everything_leaves(residual: complex) -> None:
    found = correct(residual, PLACES, MASSES)

    assert found.remains_g_mm == pytest.approx(best_of_all(residual))
    total = residual + sum(weight.vector for weight in found.weights)
    assert found.remains == pytest.approx(total)
    assert len({weight.angle_deg for weight in found.weights}) == len(found.weights)


def test_a_weight_straight_opposite_cancels_exactly() -> None:
    found = correct(500 + 0j, [(angle * 10.0, 100.0) for angle in range(36)], [5.0])

    assert [(w.angle_deg, w.mass_g) for w in found.weights] == [(180.0, 5.0)]
    assert found.remains_g_mm == pytest.approx(0.0, abs=1e-9)


def test_the_fewest_weights_that_are_enough_are_taken() -> None:
    places = [(angle * 10.0, 100.0) for angle in range(36)]

    exact = correct(340 + 45j, places, MASSES)
    enough = correct(340 + 45j, places, MASSES, enough_g_mm=60.0)

    assert enough.remains_g_mm <= 60.0
    assert len(enough.weights) < len(exact.weights)


def test_a_residual_out_of_reach_gets_all_that_helps_and_says_what_remains() -> None:
    found = correct(100_000 + 0j, PLACES, MASSES)

    assert 0 < found.remains_g_mm < 100_000
    assert found.remains_g_mm == pytest.approx(best_of_all(100_000 + 0j))


@pytest.mark.parametrize("residual", [900 - 400j, 60 + 2_000j, 14_000 - 900j])
def test_many_places_leave_little_and_hold_one_weight_each(residual: complex) -> None:
    """36 places and five masses: more ways than can be listed."""
    places = [(angle * 10.0, 300.0) for angle in range(36)]

    found = correct(residual, places, [0.5, 1.0, 2.0, 3.0, 5.0])

    assert found.remains_g_mm < 2.0
    assert len({weight.angle_deg for weight in found.weights}) == len(found.weights)
    assert found.remains == pytest.approx(residual + sum(w.vector for w in found.weights))


def test_nothing_to_correct_needs_no_weight() -> None:
    assert correct(0j, PLACES, MASSES).weights == ()


@pytest.mark.parametrize(
    ("places", "masses"),
    [
        ([], MASSES),
        (PLACES, []),
        ([(0.0, -1.0)], MASSES),
        (PLACES, [0.0]),
        ([(0.0, 9.0)] * 2, [1.0]),
    ],
)
def test_places_and_masses_that_cannot_be_are_refused(
    places: list[tuple[float, float]], masses: list[float]
) -> None:
    with pytest.raises(Refused):
        correct(1 + 1j, places, masses)

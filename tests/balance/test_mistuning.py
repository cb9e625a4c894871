"""The published bound on amplification by mistuning, as a number."""

from __future__ import annotations

import pytest

from ringwright.balance.mistuning import amplification_bound


@pytest.mark.parametrize(("slots", "bound"), [(1, 1.0), (9, 2.0), (25, 3.0), (22, 2.845)])
def test_the_bound_is_half_of_one_and_the_root_of_n(slots: int, bound: float) -> None:
    """Whitehead 1966, from memory: ½(1+√N); one blade is amplified by nothing."""
    assert amplification_bound(slots) == pytest.approx(bound, abs=5e-4)

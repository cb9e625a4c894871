"""The mass account against figures worked by hand, a Monte Carlo and its own identity."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.massing.account import Account, agree, close, merged, volume_cm3
from ringwright.massing.mass import Mass, net, rounding_u, total
from ringwright.massing.swarf import COUPONS, KINDS, OFFCUTS, TURNINGS, Moisture, Swarf, dry

TI_6AL_4V_G_CM3 = 4.43
"""Ti-6Al-4V, annealed: ASM Aerospace Specification Metals data page."""


def plain(kg: float) -> Mass:
    return Mass(kg=kg)


def swarf(kind: str, kg: float, u_kg: float = 0.0, clean: bool = True) -> Swarf:
    return Swarf(kind=kind, wet=Mass(kg=kg, u_kg=u_kg), clean=clean)


def test_a_part_of_4_kg_from_24_kg_has_a_buy_to_fly_of_6() -> None:
    # Worked by hand: 24 / 4 = 6; 4 / 24 = 16.667 %; 20 kg / 4.43 g/cm3 = 4514.67 cm3.
    found = close(Account(bought=(plain(24.0),), parts=(plain(4.0),)))
    assert found.buy_to_fly == pytest.approx(6.0)
    assert found.utilisation == pytest.approx(0.16667, abs=1e-5)
    assert found.removed_kg == pytest.approx(20.0)
    assert volume_cm3(found.removed_kg, TI_6AL_4V_G_CM3) == pytest.approx(4514.67, abs=0.01)


def test_scrapped_parts_count_as_bought() -> None:
    # Worked by hand: 10 x 24 kg in, 8 good x 4 kg: 240 / 32 = 7.5.
    good = Account(bought=(plain(24.0),), parts=(plain(4.0),))
    bad = Account(bought=(plain(24.0),), scrapped=(plain(4.0),))
    assert close(merged([good] * 8 + [bad] * 2)).buy_to_fly == pytest.approx(7.5)


def test_the_rest_of_a_worked_balance_is_a_tenth_of_a_kilogram() -> None:
    # Worked by hand: 24.0 - 4.0 - 18.9 - 0.7 - 0.3 = 0.1 kg = 0.4167 %.
    kept = (swarf(TURNINGS, 18.9), swarf(OFFCUTS, 0.7), swarf(COUPONS, 0.3))
    found = close(Account(bought=(plain(24.0),), parts=(plain(4.0),), swarf=kept))
    assert found.unaccounted.kg == pytest.approx(0.1)
    assert found.unaccounted_share == pytest.approx(0.004167, abs=1e-6)
    assert found.recovered == pytest.approx(19.9 / 20.0)
    assert not found.closes
    assert found.beyond_kg == pytest.approx(0.1)


def test_a_large_forging_lies_where_published_ratios_do() -> None:
    # Larger titanium forgings: 6 to 10 (J. Cotton, AeroMat 2015, abstract).
    found = close(Account(bought=(plain(2450.0),), parts=(plain(246.0),)))
    assert found.buy_to_fly == pytest.approx(9.96, abs=0.01)


def test_a_density_in_pounds_and_inches_is_the_same_density() -> None:
    # 0.160 lb/in3 is 4.4287848 g/cm3 with 1 lb = 453.59237 g and 1 in = 2.54 cm, both exact.
    density = 0.160 * 453.59237 / 2.54**3
    assert density == pytest.approx(4.4287848, rel=1e-7)
    assert volume_cm3(20.0, density) == pytest.approx(volume_cm3(20.0, 4.43), rel=3e-4)


def test_an_account_closes_just_within_twice_its_uncertainty() -> None:
    # u = sqrt(0.3^2 + 0.4^2) = 0.5 kg, so 1.0 kg is allowed.
    within = Account(bought=(Mass(kg=11.0, u_kg=0.3),), parts=(Mass(kg=10.0, u_kg=0.4),))
    beyond = Account(bought=(Mass(kg=11.25, u_kg=0.3),), parts=(Mass(kg=10.0, u_kg=0.4),))
    assert close(within).closes
    assert close(within).beyond_kg == 0.0
    assert not close(beyond).closes
    assert close(beyond).beyond_kg == pytest.approx(0.25)


def test_more_found_than_bought_does_not_close_either() -> None:
    found = close(Account(bought=(Mass(kg=10.0, u_kg=0.1),), parts=(plain(11.0),)))
    assert not found.closes
    assert found.beyond_kg == pytest.approx(0.8)


def test_mixed_swarf_is_found_but_not_recovered() -> None:
    kept = (swarf(TURNINGS, 6.0), swarf(TURNINGS, 2.0, clean=False))
    found = close(Account(bought=(plain(10.0),), parts=(plain(2.0),), swarf=kept))
    assert found.unaccounted.kg == pytest.approx(0.0)
    assert found.recovered == pytest.approx(0.75)


def test_nothing_bought_has_no_ratio() -> None:
    found = close(Account(bought=()))
    assert (found.buy_to_fly, found.utilisation, found.recovered) == (None, None, None)


def test_one_moisture_for_many_weighings_errs_in_all_of_them() -> None:
    shared = Moisture(fraction=0.1, u=0.01)
    batches = [Swarf(kind=TURNINGS, wet=plain(100.0), moisture=shared) for _ in range(4)]
    assert dry(batches).kg == pytest.approx(360.0)
    assert dry(batches).u_kg == pytest.approx(4.0)


def test_two_moistures_found_apart_add_as_squares() -> None:
    one = Moisture(fraction=0.1, u=0.01, sample="A")
    two = Moisture(fraction=0.1, u=0.01, sample="B")
    batches = [Swarf(kind=TURNINGS, wet=plain(300.0), moisture=one),
               Swarf(kind=TURNINGS, wet=plain(400.0), moisture=two)]  # fmt: skip
    assert dry(batches).u_kg == pytest.approx(5.0)


def test_the_uncertainty_is_that_of_a_monte_carlo() -> None:
    """JCGM 101:2008: draw every input, add up, look at the spread; numpy draws."""
    drawn = np.random.default_rng(20)
    trials = 200_000
    wet, moist = Moisture(fraction=0.06, u=0.012), Moisture(fraction=0.03, u=0.008)
    lots = [(900.0, 1.5, wet), (420.0, 1.0, wet), (310.0, 1.2, moist), (40.0, 0.2, Moisture())]
    account = Account(
        bought=(Mass(kg=2450.0, u_kg=2.0),),
        parts=(Mass(kg=980.0, u_kg=1.0),),
        swarf=tuple(
            Swarf(kind=TURNINGS, wet=Mass(kg=kg, u_kg=u_kg), moisture=moisture)
            for kg, u_kg, moisture in lots
        ),
    )
    shares = {m: drawn.normal(m.fraction, m.u, trials) for m in {one[2] for one in lots}}
    rest = drawn.normal(2450.0, 2.0, trials) - drawn.normal(980.0, 1.0, trials)
    for kg, u_kg, moisture in lots:
        rest -= drawn.normal(kg, u_kg, trials) * (1.0 - shares[moisture])
    found = close(account).unaccounted
    assert found.kg == pytest.approx(rest.mean(), abs=0.2)
    assert found.u_kg == pytest.approx(rest.std(), rel=0.01)


def test_closing_at_twice_the_uncertainty_errs_once_in_about_twenty() -> None:
    """An account with nothing missing is called short as often as k = 2 says (4.55 %)."""
    drawn = np.random.default_rng(7)
    calls = 4_000
    short = 0
    for part, scale in drawn.normal([[10.0, 100.0]], [[0.3, 0.4]], (calls, 2)):
        account = Account(
            bought=(Mass(kg=scale, u_kg=0.4),),
            parts=(Mass(kg=part, u_kg=0.3),),
            swarf=(swarf(TURNINGS, 90.0),),
        )
        short += not close(account).closes
    assert short / calls == pytest.approx(math.erfc(2 / math.sqrt(2)), abs=0.01)


def test_a_container_full_less_empty_has_both_uncertainties() -> None:
    inside = net(Mass(kg=820.0, u_kg=0.4), Mass(kg=120.0, u_kg=0.3))
    assert inside.kg == pytest.approx(700.0)
    assert inside.u_kg == pytest.approx(0.5)
    assert agree(inside, Mass(kg=700.9))
    assert not agree(inside, Mass(kg=701.1))


def test_a_figure_known_to_its_last_digit_has_the_spread_of_a_rectangle() -> None:
    assert rounding_u(0) == pytest.approx(0.2887, abs=1e-4)


KG = st.floats(0.0, 5_000.0)
U = st.floats(0.0, 5.0)
MASSES = st.builds(lambda kg, u_kg: Mass(kg=kg, u_kg=u_kg), KG, U)
LOTS = st.builds(
    lambda kind, wet, share, u, clean: Swarf(
        kind=kind, wet=wet, moisture=Moisture(fraction=share, u=u), clean=clean
    ),
    st.sampled_from(KINDS), MASSES, st.floats(0.0, 0.5), st.floats(0.0, 0.05), st.booleans(),
)  # fmt: skip
MANY = st.lists(MASSES, max_size=4).map(tuple)
ACCOUNTS = st.builds(
    lambda bought, parts, scrapped, swarf: Account(
        bought=bought, parts=parts, scrapped=scrapped, swarf=swarf
    ),
    MANY, MANY, MANY, st.lists(LOTS, max_size=5).map(tuple),
)  # fmt: skip


@given(ACCOUNTS)
def test_what_goes_in_is_what_is_found_and_the_rest(account: Account) -> None:
    found = close(account)
    kinds = math.fsum(mass.kg for mass in found.by_kind.values())
    accounted = found.part.kg + found.scrapped.kg + kinds + found.unaccounted.kg
    assert accounted == pytest.approx(found.bought.kg, abs=1e-6)
    assert found.closes == (found.beyond_kg == 0.0)


@given(st.lists(ACCOUNTS, max_size=3))
def test_the_account_of_a_week_is_the_sum_of_its_cases(accounts: list[Account]) -> None:
    week, each = close(merged(accounts)), [close(one) for one in accounts]
    assert week.unaccounted.kg == pytest.approx(
        math.fsum(one.unaccounted.kg for one in each), abs=1e-6
    )
    # A moisture that cases share makes the week less sure than cases apart would be.
    assert week.unaccounted.u_kg >= total(one.unaccounted for one in each).u_kg - 1e-6

"""Units of a recorder's columns, against SciPy, a printed table and NIST SP 811."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from ringwright.core.errors import Refused
from ringwright.heat.units import PSI_KPA, likely_slip, to_celsius, to_kpa

HELD_C = 900.0


def a_run(at_c: float = HELD_C, channels: int = 3) -> np.ndarray:
    """Cold start, heating for two hours, held for one, with noise [degC]."""
    random = np.random.default_rng(4)
    level = np.concatenate([np.linspace(20.0, at_c, 120), np.full(60, at_c)])
    return level + random.normal(0, 1.0, (channels, level.size))


@given(st.floats(-200, 3000))
def test_scipy_converts_temperatures_alike(value: float) -> None:
    of_f = constants.convert_temperature(np.array([value]), "Fahrenheit", "Celsius")
    of_k = constants.convert_temperature(np.array([value]), "Kelvin", "Celsius")

    assert to_celsius([value], "degF") == pytest.approx(of_f, abs=1e-9)
    assert to_celsius([value], "K") == pytest.approx(of_k, abs=1e-9)
    assert to_celsius([value], "degC") == [value]


def test_forming_at_1600_and_1700_degf_is_as_printed() -> None:
    """Production trials of Ti-6Al-4V forming, AeroMat 2008: 1600-1700 F = 871-927 C."""
    assert to_celsius([1600.0, 1700.0], "°F") == pytest.approx([871, 927], abs=0.5)


@given(st.floats(-1e4, 1e4))
def test_scipy_converts_pressures_alike(value: float) -> None:
    known = {"psi": constants.psi, "bar": constants.bar, "mbar": constants.bar / 1e3}
    known |= {"MPa": constants.mega, "kPa": constants.kilo, "Pa": 1.0, "hPa": constants.hecto}
    for unit, pascal in known.items():
        expected = value * pascal / 1e3
        assert float(to_kpa(value, unit)) == pytest.approx(expected, rel=1e-12, abs=1e-9)


def test_a_psi_is_as_nist_prints_it() -> None:
    """NIST SP 811 (2008), appendix B.8: psi to kPa 6.894 757 E+00."""
    assert round(PSI_KPA, 6) == 6.894757


@pytest.mark.parametrize("unit", ["degC", "°C", "C", "c", "Celsius", "deg C", "DEGC", "deg. C"])
def test_spellings_of_degc(unit: str) -> None:
    assert to_celsius([920.5, np.nan], unit) == pytest.approx([920.5, np.nan], nan_ok=True)


@pytest.mark.parametrize(
    ("unit", "kpa"),
    [
        *(("KPA", 1), ("kpa", 1), ("kPa(g)", 1), ("MPa", 1000), ("MPA", 1000), ("Bar", 100)),
        *(("barg", 100), ("bar gauge", 100), ("mbar", 0.1), ("psig", PSI_KPA)),
        ("psi_g", PSI_KPA),
    ],
)
def test_spellings_of_gauge_pressure(unit: str, kpa: float) -> None:
    assert float(to_kpa(1.0, unit)) == pytest.approx(kpa, rel=1e-12)


@pytest.mark.parametrize("unit", ["degR", "", "mV", "degC2", "CF"])
def test_an_unknown_unit_of_temperature_is_refused(unit: str) -> None:
    with pytest.raises(Refused, match="unknown unit of temperature"):
        to_celsius([1.0], unit)


@pytest.mark.parametrize("unit", ["torr", "", "kPa2", "psix", "bar((g)", "atm", "barag"])
def test_an_unknown_unit_of_pressure_is_refused(unit: str) -> None:
    with pytest.raises(Refused, match="unknown unit of pressure"):
        to_kpa([1.0], unit)


@pytest.mark.parametrize("unit", ["mpa", "mPa", "Mbar", "MBAR"])
def test_milli_or_mega_is_asked_and_not_guessed(unit: str) -> None:
    with pytest.raises(Refused, match="milli or mega"):
        to_kpa([1.0], unit)


@pytest.mark.parametrize(
    ("unit", "reading"), [("psia", 14.695949), ("bar abs", 1.01325), ("kPa(a)", 101.325)]
)
def test_absolute_pressure_needs_the_air_around_it(unit: str, reading: float) -> None:
    """One standard atmosphere, 101.325 kPa, is no gauge pressure at all."""
    with pytest.raises(Refused, match="absolute"):
        to_kpa([reading], unit)

    assert to_kpa([reading], unit, atmosphere_kpa=101.325) == pytest.approx([0.0], abs=1e-5)


@pytest.mark.parametrize("atmosphere_kpa", [1.013, 1013.25, 0.0, float("nan")])
def test_an_atmosphere_in_another_unit_is_refused(atmosphere_kpa: float) -> None:
    with pytest.raises(Refused, match="about 101"):
        to_kpa([1.0], "psia", atmosphere_kpa=atmosphere_kpa)


def test_an_atmosphere_for_a_gauge_is_refused() -> None:
    with pytest.raises(Refused, match="belongs to absolute"):
        to_kpa([1.0], "psig", atmosphere_kpa=101.3)


def test_shapes_and_blanks_stay_and_the_given_array_is_not_touched() -> None:
    column = np.array([[212.0, np.nan], [32.0, -40.0]])

    converted = to_celsius(column, "degF")

    assert converted == pytest.approx(np.array([[100, np.nan], [0, -40]]), nan_ok=True)
    assert column[0, 0] == 212.0
    assert to_celsius(column, "degC") is not column


@pytest.mark.parametrize("held_c", [150.0, 301.0, 540.0, 900.0, 1250.0])
def test_a_slip_of_scale_is_seen_and_an_honest_run_is_not(held_c: float) -> None:
    """At 301 degC a run in degF and one in K hold the same figure; the cold start tells."""
    run = a_run(held_c)

    assert likely_slip(run, held_c) is None
    assert likely_slip(constants.convert_temperature(run, "C", "F"), held_c) == "degF"
    assert likely_slip(constants.convert_temperature(run, "C", "K"), held_c) == "K"


def test_neither_a_broken_thermocouple_nor_a_spike_is_a_slip() -> None:
    run = a_run()
    run[0, :] = 1652.0
    run[1, 100] = 1652.0

    assert likely_slip(run, HELD_C) is None
    assert likely_slip(run[1], HELD_C) is None


def test_a_run_that_began_cold_in_degc_is_not_in_kelvin() -> None:
    """Another recipe's 1,173 degC is 900 degC in K; 20 K would be colder than any shop."""
    assert likely_slip(a_run(1173.15), HELD_C) is None


def test_a_run_that_never_came_near_or_read_nothing_says_nothing() -> None:
    assert likely_slip(a_run(500.0), HELD_C) is None
    assert likely_slip([np.nan, np.nan], HELD_C) is None
    assert likely_slip([], HELD_C) is None

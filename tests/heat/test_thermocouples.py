"""Thermocouples of the ITS-90 against NIST's printed tables and its stated errors."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from ringwright.core.errors import Refused
from ringwright.heat.thermocouple_tables import TABLES
from ringwright.heat.thermocouples import (
    TYPES,
    hot_end_c,
    inverse_error_c,
    temperature_c,
    voltage_mv,
)

PRINTED = Path(__file__).parent / "data" / "its90_printed.csv"


def printed(letter: str) -> tuple[np.ndarray, np.ndarray]:
    """Temperatures and voltages of one type as NIST prints them."""
    with PRINTED.open(encoding="utf-8") as file:
        lines = [line for line in file if not line.startswith("#")]
    rows = [row for row in csv.DictReader(lines) if row[letter]]
    return (
        np.array([float(row["celsius"]) for row in rows]),
        np.array([float(row[letter]) for row in rows]),
    )


@pytest.mark.parametrize("letter", TYPES)
def test_voltages_are_those_of_nists_tables(letter: str) -> None:
    """Half a unit of the last figure printed, and nothing for the rounding of ours."""
    celsius, voltage = printed(letter)

    assert len(celsius) > 35
    assert np.abs(voltage_mv(letter, celsius) - voltage).max() <= 0.0005 + 1e-9


@pytest.mark.parametrize("letter", TYPES)
def test_temperatures_are_those_of_nists_tables(letter: str) -> None:
    """Within the stated error and what the rounding of a printed voltage is worth."""
    celsius, voltage = printed(letter)

    found = temperature_c(letter, voltage)

    slope = np.gradient(voltage, celsius)
    assert np.abs(found - celsius).max() <= (0.06 + 0.0005 / slope.min())
    assert np.median(np.abs(found - celsius)) < 0.06


@pytest.mark.parametrize("letter", TYPES)
def test_there_and_back_stays_within_the_error_nist_states(letter: str) -> None:
    """Each stretch against its own error, which is printed rounded (K: 0.0405 is 0.04)."""
    table = TABLES[letter]
    celsius = np.arange(max(table.direct[0].low, -200.0), table.direct[-1].high, 0.05)
    voltage = voltage_mv(letter, celsius)
    error = temperature_c(letter, voltage) - celsius

    assert np.isfinite(error).all()
    for piece in table.inverse:
        here = error[(voltage >= piece.low) & (voltage < piece.high)]
        size = max(-piece.error_low_c, piece.error_high_c)
        assert piece.error_low_c - 0.05 * size <= here.min()
        assert here.max() <= piece.error_high_c + 0.05 * size
        # NIST's figure is the error and not some wide limit: ours comes near it.
        assert np.abs(here).max() > 0.5 * size


@pytest.mark.parametrize("letter", TYPES)
def test_the_stretches_of_a_type_meet(letter: str) -> None:
    """Below what a table prints: a wrong figure in a coefficient opens a step."""
    for piece in TABLES[letter].direct[1:]:
        below, above = voltage_mv(letter, [piece.low - 1e-9, piece.low])
        assert above - below == pytest.approx(0.0, abs=2e-7)


def test_a_temperature_between_printed_ones_is_found_by_a_general_root_finder() -> None:
    for hot in (37.5, 499.0, 501.0, 905.5, 1064.0):
        for letter in TYPES:
            voltage = float(voltage_mv(letter, hot))
            root = brentq(lambda t, k=letter, v=voltage: float(voltage_mv(k, t)) - v, 0, 1290)
            assert float(temperature_c(letter, voltage)) == pytest.approx(root, abs=0.06)


def test_the_cold_end_is_added_in_millivolts() -> None:
    """Hot end 920 degC, terminals 25 degC: 38.124 - 1.000 mV; the degrees would give 919.95."""
    assert float(hot_end_c("K", 37.124, 25.0)) == pytest.approx(920.0, abs=0.02)
    assert float(temperature_c("K", 37.124)) == pytest.approx(894.95, abs=0.02)


@pytest.mark.parametrize("letter", TYPES)
def test_the_terminals_may_have_any_temperature(letter: str) -> None:
    hot, cold = np.linspace(100, 1290, 200)[:, None], np.array([0.0, 18.0, 31.5, 60.0])

    found = hot_end_c(letter, voltage_mv(letter, hot) - voltage_mv(letter, cold), cold)

    assert found.shape == (200, 4)
    assert np.abs(found - hot).max() < 0.06


def test_what_a_type_cannot_read_has_no_temperature() -> None:
    assert np.isnan(temperature_c("K", [np.nan, 54.9, -6.0, np.inf])).all()
    assert np.isnan(voltage_mv("S", [-50.1, 1768.2, np.nan])).all()
    assert np.isnan(hot_end_c("K", [20.0], [np.nan])).all()
    assert float(temperature_c("K", voltage_mv("K", 1372.0))) == pytest.approx(1372, abs=0.06)


def test_the_stated_error_is_told_for_a_voltage() -> None:
    """NIST: -0.05 to 0.06 degC for type K above 500 degC, 0.0002 for S above 1064."""
    assert inverse_error_c("K", 38.0) == (-0.05, 0.06)
    assert inverse_error_c("S", 12.0) == (-0.0002, 0.0002)
    with pytest.raises(Refused, match="outside"):
        inverse_error_c("K", 60.0)


@pytest.mark.parametrize("letter", ["k", "X", "", "KK"])
def test_an_unknown_type_is_refused(letter: str) -> None:
    with pytest.raises(Refused, match="known are K, N, R, S"):
        temperature_c(letter, 1.0)

"""From the millivolts of a thermocouple to the temperature of its hot end, and back.

Reference functions of the ITS-90 for the types K, N, R and S (`thermocouple_tables.py` says
whence). A thermocouple gives the voltage between two temperatures, so the cold end is corrected
in millivolts: adding its degrees is wrong, since the voltage of a degree is not the same when
cold and when hot.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.polynomial.polynomial import polyval
from numpy.typing import ArrayLike

from ringwright.core.errors import Refused
from ringwright.heat.thermocouple_tables import TABLES, Inverse, Piece, Table
from ringwright.heat.trace import Floats

TYPES: Final = tuple(TABLES)
"""Letters of the types that are known here."""
_ROUNDED_MV: Final = 0.001
"""Ends of NIST's stretches are printed to a thousandth, some cut and some rounded."""


def voltage_mv(letter: str, hot_c: ArrayLike) -> Floats:
    """Voltage of a thermocouple whose cold end is at 0 degC [mV].

    `hot_c` is of any shape and keeps it [degC]. NaN where a reading is NaN or lies outside the
    reference function (K -270 to 1372 degC, N -270 to 1300, R and S -50 to 1768.1).
    Refused: a type that is not known here.
    """
    table, hot = _table(letter), np.asarray(hot_c, dtype=np.float64)
    voltage = _by_piece(table.direct, hot, slack=0.0)
    if table.bump is not None:
        a0, a1, a2 = table.bump
        # The bump belongs to the upper stretch alone; both stretches are 0 mV at 0 degC.
        voltage = voltage + np.where(hot >= 0.0, a0 * np.exp(a1 * (hot - a2) ** 2), 0.0)
    return voltage


def temperature_c(letter: str, reading_mv: ArrayLike) -> Floats:
    """Temperature of the hot end where the cold end is at 0 degC [degC].

    `reading_mv` is of any shape and keeps it. By NIST's inverse functions, whose error is
    within `inverse_error_c`. NaN where a reading is NaN or lies outside them (K from -200 degC,
    N from -200, R and S from -50): an open or reversed thermocouple has no temperature.
    Refused: a type that is not known here.
    """
    given = np.asarray(reading_mv, dtype=np.float64)
    return _by_piece(_table(letter).inverse, given, slack=_ROUNDED_MV)


def hot_end_c(letter: str, reading_mv: ArrayLike, cold_c: ArrayLike) -> Floats:
    """Temperature of the hot end from the voltage at terminals that are not at 0 degC [degC].

    `reading_mv` is the voltage there, `cold_c` the temperature of the terminals [degC]; shapes
    broadcast. The terminals' own voltage is added, never their degrees. NaN where either has
    none. Refused: a type that is not known here.
    """
    return temperature_c(
        letter, np.asarray(reading_mv, dtype=np.float64) + voltage_mv(letter, cold_c)
    )


def inverse_error_c(letter: str, reading_mv: float) -> tuple[float, float]:
    """Least and largest error that NIST states for the inverse function there [degC].

    Refused: a type that is not known here, or a voltage outside its inverse functions.
    """
    pieces: tuple[Inverse, ...] = _table(letter).inverse
    for piece in reversed(pieces):
        if piece.low - _ROUNDED_MV <= reading_mv <= piece.high + _ROUNDED_MV:
            return piece.error_low_c, piece.error_high_c
    raise Refused(f"{reading_mv:g} mV is outside the inverse functions of type {letter}")


def _table(letter: str) -> Table:
    if letter not in TABLES:
        raise Refused(f"unknown thermocouple type {letter!r}; known are {', '.join(TYPES)}")
    return TABLES[letter]


def _by_piece(pieces: Sequence[Piece], given: Floats, *, slack: float) -> Floats:
    """The polynomial of the stretch each value lies in; NaN beyond the first and the last."""
    found = np.full(given.shape, np.nan)
    beyond_last = pieces[-1].high + slack
    for number, piece in enumerate(pieces):
        low = piece.low - (slack if number == 0 else 0.0)
        here = (given >= low) & (given <= beyond_last)
        found[here] = polyval(given[here], np.array(piece.coefficients))
    return found

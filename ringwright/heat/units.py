"""What a recorder's column is kept in: degrees of three scales, pressures of six units.

Inside, a temperature is in degC and a pressure is the gauge pressure in kPa. Factors: NIST
Special Publication 811 (2008), appendix B. Those used here are exact by definition; that of psi
comes from the pound of 0.45359237 kg, the standard gravity of 9.80665 m/s2 and the inch of
25.4 mm, all exact, and is not rounded.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from ringwright.core.errors import Refused
from ringwright.heat.trace import Floats

CELSIUS, FAHRENHEIT, KELVIN = "degC", "degF", "K"
ZERO_C_IN_K: Final = 273.15
PSI_KPA: Final = 0.45359237 * 9.80665 / 0.0254**2 / 1000.0
KPA: Final = {"Pa": 1e-3, "hPa": 0.1, "kPa": 1.0, "MPa": 1e3, "mbar": 0.1, "bar": 1e2}
KPA["psi"] = PSI_KPA
"""One of each unit in kPa."""
LEAST_ATMOSPHERE_KPA, MOST_ATMOSPHERE_KPA = 50.0, 110.0
"""What a barometer reads where people work (common practice, no source)."""
SUSTAINED: Final = 0.99
"""The level that all but one reading in a hundred stay below: a soak, not a spike."""
NEAREST_C, NEAREST_SHARE = 15.0, 0.05
"""How near the target a level must lie to belong to it: the larger of the two."""
ROOM_C: Final = 20.0
COLDEST_IN_K: Final = 223.15
"""Nothing in a shop is colder: -50 degC (common practice, no source)."""

_SCALES: Final = {
    CELSIUS: ("degc", "c", "celsius", "degcelsius", "centigrade"),
    FAHRENHEIT: ("degf", "f", "fahrenheit", "degfahrenheit"),
    KELVIN: ("k", "kelvin", "degk"),
}
_ABSOLUTE: Final = ("a", "abs", "absolute")
_OVER: Final = "a|abs|absolute|g|gauge|gage"
_PRESSURE: Final = re.compile(
    rf"(?P<unit>[hkm]?pa|m?bar|psi)[ _]?(?:\((?P<in>{_OVER})\)|(?P<over>{_OVER}))?",
    re.IGNORECASE,
)


def to_celsius(values: ArrayLike, unit: str) -> Floats:
    """Readings of one column in degC.

    `values` is of any shape and keeps it; NaN stays NaN. `unit` is degC, degF or K, also as
    °C, C, Celsius, deg C and the like, in capitals or not. Refused: any other unit.
    """
    given = np.asarray(values, dtype=np.float64)
    scale = scale_of(unit)
    if scale == FAHRENHEIT:
        return (given - 32.0) / 1.8
    return given - ZERO_C_IN_K if scale == KELVIN else given.copy()


def scale_of(unit: str) -> str:
    """The scale that a spelling means: degC, degF or K. Refused: any other."""
    plain = re.sub(r"[\s._]", "", unit).replace("\N{DEGREE SIGN}", "deg").casefold()
    for scale, spellings in _SCALES.items():
        if plain in spellings:
            return scale
    raise Refused(f"unknown unit of temperature {unit!r}; give degC, degF or K")


def to_kpa(values: ArrayLike, unit: str, *, atmosphere_kpa: float | None = None) -> Floats:
    """Readings of one pressure column as gauge pressure in kPa.

    `values` is of any shape and keeps it; NaN stays NaN. `unit` is Pa, hPa, kPa, MPa, mbar, bar
    or psi; psig, bar(g), kPa gauge say what is meant anyway. Absolute pressure (psia, bar abs,
    kPa(a)) is what the cavity and the air outside press together: it is only taken with the
    air's own pressure at the time, `atmosphere_kpa`, which is subtracted.

    Refused: another unit, mpa (milli or mega?), absolute pressure without an atmosphere, an
    atmosphere given to a gauge pressure, or one that no barometer reads.
    """
    found = _PRESSURE.fullmatch(unit.strip())
    if found is None:
        raise Refused(f"unknown unit of pressure {unit!r}; give kPa, MPa, mbar, bar or psi")
    given = np.asarray(values, dtype=np.float64) * KPA[_spelled(found["unit"])]
    absolute = (found["in"] or found["over"] or "").casefold() in _ABSOLUTE
    if not absolute and atmosphere_kpa is not None:
        raise Refused(f"{unit} is gauge pressure; an atmosphere belongs to absolute pressure")
    return given - _checked(unit, atmosphere_kpa) if absolute else given


def _spelled(unit: str) -> str:
    """The unit as SI spells it; a small m is milli, a large one mega."""
    if unit[0] in "mM" and unit not in ("MPa", "MPA", "mbar"):
        raise Refused(f"{unit!r} may be milli or mega; spell it MPa or mbar")
    return next(one for one in KPA if one.casefold() == unit.casefold())


def _checked(unit: str, atmosphere_kpa: float | None) -> float:
    if atmosphere_kpa is None:
        raise Refused(
            f"{unit} is absolute pressure; pressure_kpa is gauge pressure: give the pressure of"
            " the air at the time, or the gauge's own column"
        )
    if not LEAST_ATMOSPHERE_KPA <= atmosphere_kpa <= MOST_ATMOSPHERE_KPA:
        raise Refused(f"an atmosphere of {atmosphere_kpa:g} kPa is none; it is about 101")
    return atmosphere_kpa


def likely_slip(values_c: ArrayLike, target_c: float) -> str | None:
    """What a column that is said to be in degC looks like instead: degF, K, or None.

    `values_c` is one column (n,) or several (channels, n); `target_c` the highest temperature
    that the recipe holds [degC]. The level that a channel holds is compared with the target on
    each scale: 900 degC reads 1652 in degF and 1173 in K. A guess for a person to answer, from
    common practice without a source: a run that never came near its target gives None.
    """
    columns = np.atleast_2d(np.asarray(values_c, dtype=np.float64))
    read = [one[np.isfinite(one)] for one in columns]
    levels = [float(np.quantile(one, SUSTAINED)) for one in read if one.size]
    if not levels:
        return None
    level = float(np.median(levels))
    coldest = min(float(one.min()) for one in read if one.size)
    near = max(NEAREST_C, NEAREST_SHARE * abs(target_c))
    fit = [one for one in _SCALES if abs(float(to_celsius(level, one)) - target_c) <= near]
    if coldest < COLDEST_IN_K and KELVIN in fit:
        fit.remove(KELVIN)
    if CELSIUS in fit or not fit:
        return None
    # Near 301 degC both scales read alike when hot, but not when the furnace was cold.
    return min(fit, key=lambda one: abs(float(to_celsius(coldest, one)) - ROOM_C))

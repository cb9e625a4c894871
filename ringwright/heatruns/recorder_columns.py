"""Which column of a recorder's file is what, and in which unit: guessed, chosen, doubted."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ringwright.core.errors import Refused
from ringwright.furnaces.card import Columns
from ringwright.heat.recipe import Recipe
from ringwright.heat.trace import Floats
from ringwright.heat.units import (
    CELSIUS,
    FAHRENHEIT,
    KELVIN,
    KPA,
    NEAREST_C,
    NEAREST_SHARE,
    SUSTAINED,
    likely_slip,
    to_celsius,
)
from ringwright.heatruns.recorder import PRESSURE, RecorderTable, Taken

AT: Final = "at"
TEMPERATURES: Final = (CELSIUS, FAHRENHEIT, KELVIN)
PRESSURES: Final = ("kPa", "MPa", "mbar", "bar", "psi")
NEAR: Final = 0.2
"""A pressure that lies within a fifth of what the recipe asks is taken for it."""
_TIMES: Final = frozenset(
    {"at", "time", "timestamp", "date_time", "datetime", "date", "t", "time_s", "seconds"}
)
_NUMBERED: Final = re.compile(
    r"(?:tc|t_c|thermocouple|temp|temperature|ch|channel|t)_?0*(\d+)(?!\d)"
)
_FAHRENHEIT: Final = re.compile(r"(deg_?|_|^)f(ahrenheit)?$")
_CELSIUS: Final = re.compile(r"(deg_?|_|^)c(elsius)?$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What is chosen of a file so far; what is empty must still be said."""

    places: dict[str, int]
    """`at` and channels to the place of their column, from 0."""
    temperature_unit: str = ""
    pressure_unit: str = ""
    zone: str = ""
    before: bool = False
    """True where this furnace's files were read so before."""

    def columns(self, table: RecorderTable) -> Columns | None:
        """How the file is read; None while the time, a thermocouple or a unit lacks."""
        titles = {name: table.heading[place] for name, place in self.places.items()}
        time = titles.pop(AT, None)
        temperatures = [name for name in titles if name != PRESSURE]
        if time is None or not temperatures or not self.temperature_unit:
            return None
        if PRESSURE in titles and not self.pressure_unit:
            return None
        return Columns(
            time=time,
            channels=titles,
            temperature_unit=self.temperature_unit,
            pressure_unit=self.pressure_unit or "kPa",
            zone=self.zone,
        )


def remembered(table: RecorderTable, before: Columns | None) -> Choice | None:
    """The columns of this furnace's last file, where this one has all of them."""
    if before is None:
        return None
    titles = {AT: before.time, **before.channels}
    if any(title not in table.heading for title in titles.values()):
        return None
    return Choice(
        places={name: table.heading.index(title) for name, title in titles.items()},
        temperature_unit=before.temperature_unit,
        pressure_unit=before.pressure_unit if PRESSURE in titles else "",
        zone=before.zone,
        before=True,
    )


def guessed(table: RecorderTable, channels: Sequence[str]) -> Choice:
    """Columns whose titles say what they are, and units that stand in a title or under it."""
    plain = [_plain(title) for title in table.heading]
    places: dict[str, int] = {}
    for name in (AT, *channels, PRESSURE):
        free = [place for place in range(len(plain)) if place not in places.values()]
        found = next((place for place in free if _is(name, plain[place])), None)
        if found is not None:
            places[name] = found
    temperatures = [place for name, place in places.items() if name not in (AT, PRESSURE)]
    pressure = [place for name, place in places.items() if name == PRESSURE]
    return Choice(
        places=places,
        temperature_unit=_one(table, temperatures, _temperature_unit),
        pressure_unit=_one(table, pressure, _pressure_unit),
    )


def _plain(title: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", title.lower().replace("°", "deg")).strip("_")


def _is(name: str, title: str) -> bool:
    """Whether a title says that its column holds that channel."""
    if name == AT:
        return title in _TIMES
    if name == PRESSURE:
        return "press" in title or title == "p" or title.startswith("p_")
    wanted = _plain(name)
    if title == wanted:
        return True
    ours, theirs = _NUMBERED.match(wanted), _NUMBERED.match(title)
    return ours is not None and theirs is not None and ours[1] == theirs[1]


def _one(table: RecorderTable, places: Sequence[int], unit_of: object) -> str:
    """The unit that all those columns say; empty where they say none, or not the same."""
    assert callable(unit_of)
    found = {
        unit_of(_plain(table.heading[place]))
        or (unit_of(_plain(table.units[place])) if table.units else "")
        for place in places
    }
    return str(found.pop()) if len(found) == 1 else ""


def _temperature_unit(title: str) -> str:
    if _FAHRENHEIT.search(title):
        return FAHRENHEIT
    return CELSIUS if _CELSIUS.search(title) else ""


def _pressure_unit(title: str) -> str:
    words = title.split("_")
    return next((unit for unit in PRESSURES if unit.lower() in words), "")


def typed(
    table: RecorderTable, places: Mapping[str, str], units: Mapping[str, str], zone: str
) -> Choice:
    """What the form says; raises Refused for one column chosen twice or no such column."""
    chosen = {name: int(text) for name, text in places.items() if text.isdigit()}
    if any(place >= len(table.heading) for place in chosen.values()):
        raise Refused("a column was chosen that the file has not; choose the columns anew")
    taken: dict[int, str] = {}
    for name, place in chosen.items():
        if place in taken:
            title = table.heading[place][:60]
            raise Refused(f"column {title!r} is chosen for {taken[place]} and for {name}")
        taken[place] = name
    temperature, pressure = units.get("temperature", ""), units.get("pressure", "")
    return Choice(
        places=chosen,
        temperature_unit=temperature if temperature in TEMPERATURES else "",
        pressure_unit=pressure if pressure in PRESSURES else "",
        zone=zone,
    )


def slips(taken: Taken, columns: Columns, recipe: Recipe) -> list[str]:
    """What looks like another unit than was chosen, held against what the recipe asks."""
    return _temperature_slip(taken, columns, recipe) + _pressure_slip(taken, columns, recipe)


def _temperature_slip(taken: Taken, columns: Columns, recipe: Recipe) -> list[str]:
    read = [values for name, values in taken.raw.items() if name != PRESSURE]
    read = [values for values in read if np.isfinite(values).any()]
    target_c = max((one.target_c for one in recipe.segments), default=0.0)
    if not read:
        return []
    if columns.temperature_unit == CELSIUS:
        looks = likely_slip(np.array(read), target_c)
    else:
        # A figure in degC that was taken for another scale comes out far too cold.
        near_c = max(NEAREST_C, NEAREST_SHARE * abs(target_c))
        levels = [_level(values) for values in read]
        found = {one: to_celsius(np.median(levels), one) - target_c for one in TEMPERATURES}
        fits = [one for one, off_c in found.items() if abs(float(off_c)) <= near_c]
        looks = fits[0] if fits and columns.temperature_unit not in fits else None
    if looks is None:
        return []
    return [
        f"the temperatures look like {looks}, not {columns.temperature_unit}: "
        f"the recipe holds {target_c:g} degC"
    ]


def _level(values: Floats) -> float:
    return float(np.quantile(np.abs(values[np.isfinite(values)]), SUSTAINED))


def _pressure_slip(taken: Taken, columns: Columns, recipe: Recipe) -> list[str]:
    asked = [abs(one.pressure_kpa) for one in recipe.segments if one.pressure_kpa]
    values = taken.raw.get(PRESSURE)
    if not asked or values is None or not np.isfinite(values).any():
        return []
    level = _level(values)
    wanted = max(asked)
    fits = [unit for unit in PRESSURES if abs(level * KPA[unit] - wanted) <= NEAR * wanted]
    if columns.pressure_unit in fits or not fits:
        return []
    return [
        f"the pressures look like {fits[0]}, not {columns.pressure_unit}: "
        f"the recipe asks {wanted:g} kPa"
    ]

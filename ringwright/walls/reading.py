"""Readings of a wall from a CSV file: every row judged, every bad one named by its line.

The record keeps millimetres. 1 in = 25.4 mm and 1 thou = 0.0254 mm exactly (NIST SP 811,
2008, appendix B.8; ISO 31-1).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from ringwright.core.errors import Refused
from ringwright.core.fields import problem_of_text
from ringwright.core.parted import read_parted
from ringwright.walls.plan import FULL_TURN_DEG, WallPlan

MOST_ROWS: Final = 20_000
MOST_COLUMNS: Final = 40
FARTHEST: Final = 10.0
"""No wall is this many times its nominal, or this part of it: it is in another unit."""
MICROMETRES: Final = 300.0
"""Above this many times the nominal a figure in mm is most likely one in µm."""
UNITS: Final[dict[str, Decimal]] = {
    "mm": Decimal(1),
    "in": Decimal("25.4"),
    "thou": Decimal("0.0254"),
    "um": Decimal("0.001"),
}
"""Units a column may have, to millimetres."""
STATION, ANGLE, WALL, U, POINT = "station_mm", "angle_deg", "wall_mm", "u_mm", "point"
NEEDED: Final = (STATION, ANGLE, WALL)
COLUMNS: Final = (*NEEDED, U, POINT)
LENGTHS: Final = (STATION, WALL, U)
_FIGURE: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_NAMES: Final[dict[str, tuple[str, ...]]] = {
    STATION: ("station", "axial", "z"),
    ANGLE: ("angle", "theta", "azimuth"),
    WALL: ("wall", "thickness", "t"),
    U: ("u", "uncertainty"),
    POINT: ("point", "pt", "id", "no"),
}
"""How a heading may begin, beside the column's own name."""
_ENDINGS: Final = {"mm": "mm", "in": "in", "inch": "in", "thou": "thou", "mil": "thou",
                   "um": "um"}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class WallReading:
    """One reading: where, how thick, and how sure where the file says so."""

    station_mm: float
    angle_deg: float
    wall_mm: float
    u_mm: float | None = None
    point: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WallTable:
    """A file as rows of text, with its heading and the line each row stands on."""

    heading: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    comma: bool
    """True where decimals are written with a comma."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Which column holds what, and in which unit its lengths are."""

    places: Mapping[str, int]
    units: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Expects:
    """What a plan expects after a step, to tell a slip of units by."""

    least_mm: float
    most_mm: float
    """The smallest and largest nominal of its zones."""
    length_mm: float


def expects(plan: WallPlan, step: int) -> Expects:
    """What the plan expects after a step."""
    nominals = [zone.limits_after(step).nominal or 0.0 for zone in plan.zones]
    return Expects(least_mm=min(nominals), most_mm=max(nominals), length_mm=plan.length_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class BadRow:
    """A row that cannot be taken, and why."""

    line: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WallFile:
    """What a file says: its readings in the order of place, and the rows that are none."""

    readings: tuple[WallReading, ...]
    bad: tuple[BadRow, ...] = ()
    repeated: int = 0
    """Rows that stood there already with the same figures; taken once."""


def read_table(text: str) -> WallTable:
    """The rows of a file; raises Refused for one that is none."""
    few = "the first row must name the columns: station_mm, angle_deg, wall_mm"
    found = read_parted(text.removeprefix("\ufeff"), len(NEEDED), few)
    if len(found.heading) > MOST_COLUMNS or len(found.rows) > MOST_ROWS:
        raise Refused(
            f"up to {MOST_ROWS:,} rows and {MOST_COLUMNS} columns are read at once; "
            f"this file has {len(found.rows):,} and {len(found.heading)}"
        )
    if not found.rows:
        raise Refused("the file has a heading and no rows")
    return WallTable(heading=found.heading, rows=found.rows, comma=found.comma)


def guessed(table: WallTable) -> Chosen:
    """Columns and units by their headings; what is not found is left out."""
    plain = [re.sub(r"[^a-z0-9]+", "_", title.lower()).strip("_") for title in table.heading]
    places: dict[str, int] = {}
    units: dict[str, str] = {}
    for column in COLUMNS:
        known = (column, *_NAMES[column])
        for place, title in enumerate(plain):
            stem, _, ending = title.rpartition("_")
            named = title in known or stem in known
            if named and column not in places and place not in places.values():
                places[column] = place
                units[column] = _ENDINGS.get(ending, "mm")
    return Chosen(places=places, units={name: units[name] for name in LENGTHS if name in units})


def read_walls(table: WallTable, chosen: Chosen, planned: Expects) -> WallFile:
    """Every row in millimetres and degrees from 0 to below 360; what is wrong is told by line.

    Identical rows are taken once; two walls at one place are both bad, since neither is surer.
    """
    check_chosen(table, chosen)
    rows: list[tuple[int, WallReading]] = []
    bad: list[BadRow] = []
    for line, cells in table.rows:
        try:
            rows.append((line, _reading(cells, table, chosen)))
        except Refused as refusal:
            bad.append(BadRow(line=line, why=refusal.message))
    found = judged_rows(rows, planned)
    both = sorted((*bad, *found.bad), key=lambda one: one.line)
    return replace(found, bad=tuple(both))


def judged_rows(rows: Iterable[tuple[int, WallReading]], planned: Expects) -> WallFile:
    """Readings with the line of each: implausible ones are bad, repeated ones taken once."""
    kept: dict[tuple[float, float], tuple[int, WallReading]] = {}
    bad: list[BadRow] = []
    repeated = 0
    for line, one in rows:
        try:
            _check_plausible(one, planned)
        except Refused as refusal:
            bad.append(BadRow(line=line, why=refusal.message))
            continue
        first_line, before = kept.setdefault((one.station_mm, one.angle_deg), (line, one))
        if first_line == line:
            continue
        if (before.wall_mm, before.u_mm) == (one.wall_mm, one.u_mm):
            repeated += 1
        else:
            bad.append(BadRow(line=line, why=_clash(first_line, before, one)))
    readings = tuple(one for _, (_, one) in sorted(kept.items()))
    return WallFile(readings=readings, bad=tuple(bad), repeated=repeated)


def check_chosen(table: WallTable, chosen: Chosen) -> None:
    """Refuse columns that are missing, chosen twice or not in the file, and unknown units."""
    lacking = [name for name in NEEDED if name not in chosen.places]
    if lacking:
        raise Refused(f"choose the column of {' and of '.join(lacking)}")
    if len(set(chosen.places.values())) != len(chosen.places):
        raise Refused("one column is chosen for two things; each column holds one")
    if any(not 0 <= place < len(table.heading) for place in chosen.places.values()):
        raise Refused("a chosen column is not in the file; choose it again")
    for name, unit in chosen.units.items():
        if unit not in UNITS:
            raise Refused(f"{name}: {unit[:20]!r} is no unit of a length; mm, in, thou or um")


def refuse_bad(file: WallFile, *, most: int = 12, word: str = "line") -> None:
    """Raise Refused that names the bad rows, where there is one."""
    if not file.bad:
        if not file.readings:
            raise Refused("there is no reading in it")
        return
    told = "; ".join(f"{word} {one.line}: {one.why}" for one in file.bad[:most])
    more = f"; and {len(file.bad) - most} more" if len(file.bad) > most else ""
    raise Refused(f"{len(file.bad)} rows cannot be taken: {told}{more}", code="bad-rows")


def _reading(cells: Sequence[str], table: WallTable, chosen: Chosen) -> WallReading:
    found = {
        name: _figure(_cell(cells, place), name, table.comma)
        for name, place in chosen.places.items()
        if name != POINT
    }
    lengths = {
        name: _in_mm(value, chosen.units.get(name, "mm"))
        for name, value in found.items()
        if value is not None and name in LENGTHS
    }
    for name in NEEDED:
        if found[name] is None:
            raise Refused(f"{name} is missing")
    point = _cell(cells, chosen.places[POINT]) if POINT in chosen.places else ""
    problem = problem_of_text(point)
    if problem is not None:
        raise Refused(f"point {problem}")
    return WallReading(
        station_mm=lengths[STATION],
        angle_deg=_turned(found[ANGLE] or Decimal(0)),
        wall_mm=lengths[WALL],
        u_mm=lengths.get(U),
        point=point,
    )


def _figure(text: str, name: str, comma: bool) -> Decimal | None:
    if not text:
        return None
    bare = text.replace(",", ".") if comma else text
    bare = bare.replace("\u2212", "-")
    if not bare.isascii() or not _FIGURE.fullmatch(bare) or not math.isfinite(float(bare)):
        raise Refused(f"{name}: {text[:30]!r} is not a figure")
    return Decimal(bare)


def _in_mm(value: Decimal, unit: str) -> float:
    return float(f"{value * UNITS[unit]:.12g}") + 0.0


def _turned(angle: Decimal) -> float:
    """The same direction, from 0 to below 360; made in decimal, so that -0.1 is 359.9."""
    turned = float(angle % Decimal(360) if angle >= 0 else angle % Decimal(360) + 360)
    return 0.0 if turned >= FULL_TURN_DEG else turned + 0.0


def _check_plausible(one: WallReading, planned: Expects) -> None:
    least_mm, nominal_mm, length_mm = planned.least_mm, planned.most_mm, planned.length_mm
    if not 0 <= one.station_mm <= length_mm:
        raise Refused(
            f"station {one.station_mm:g} mm lies off the case (0 to {length_mm:g} mm)"
        )
    if one.wall_mm <= 0:
        raise Refused(f"a wall of {one.wall_mm:g} mm cannot be")
    if one.wall_mm > MICROMETRES * nominal_mm:
        raise Refused(
            f"a wall of {one.wall_mm:g} mm against {nominal_mm:g} planned: is it in µm?"
        )
    if one.wall_mm > FARTHEST * nominal_mm:
        raise Refused(
            f"a wall of {one.wall_mm:g} mm is over {FARTHEST:g} times the {nominal_mm:g} "
            "planned; look at the unit"
        )
    if one.wall_mm * FARTHEST < least_mm:
        raise Refused(
            f"a wall of {one.wall_mm:g} mm is under a tenth of the {least_mm:g} planned; "
            "look at the unit"
        )
    if one.u_mm is not None and not 0 < one.u_mm < nominal_mm:
        raise Refused(f"an uncertainty of {one.u_mm:g} mm cannot be")


def _clash(line: int, before: WallReading, one: WallReading) -> str:
    return (
        f"says {one.wall_mm:g} mm at station {one.station_mm:g} mm, {one.angle_deg:g}°, where "
        f"line {line} says {before.wall_mm:g}; keep the right one"
    )


def _cell(cells: Sequence[str], place: int) -> str:
    return cells[place].strip() if 0 <= place < len(cells) else ""

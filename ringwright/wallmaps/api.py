"""Walls over HTTP: readings of a case, and what they say."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Body, Path
from pydantic import BaseModel, ConfigDict, Field

from ringwright.core.calendar import iso_text
from ringwright.kit.problems import answer, problems
from ringwright.people.deps import Bearer, Signed
from ringwright.wallmaps.board import CaseBoard, read_case
from ringwright.wallmaps.service import KeepWall
from ringwright.walls.mapping import Judged
from ringwright.walls.reading import (
    MOST_ROWS,
    WallReading,
    expects,
    judged_rows,
    refuse_bad,
)
from ringwright.walls.trend import Expected

router = APIRouter(prefix="/api", tags=["walls"])

SOURCE: Final = "API"
PRINTED: Final[dict[str, Any]] = {"pattern": r"^[^\x00-\x1f\x7f-\x9f]+$"}
Serial = Annotated[str, Path(alias="serial", examples=["C22-0041"])]
Key = Annotated[str, Field(min_length=1, max_length=200, json_schema_extra=PRINTED)]
Gauge = Annotated[str, Field(max_length=80)]
Station = Annotated[float, Field(ge=0, le=10_000)]
Angle = Annotated[float, Field(ge=-100_000, le=100_000)]
Wall = Annotated[float, Field(gt=0, le=100_000)]
Row = tuple[Station, Angle, Wall]
KEEP: Final = {
    "two": {
        "summary": "Two places of a case that is in work at a step of its wall plan",
        "value": {
            "key": "tank-1-000117",
            "method": "ultrasonic",
            "readings": [[20.0, 0.0, 2.51], [20.0, 15.0, 2.48]],
        },
    }
}
KEPT: Final[dict[str, Any]] = {
    "serial": "C22-0041", "step": 40, "entry": 40218, "readings": 2, "revision": "1",
}  # fmt: skip
STANDING: Final[dict[str, Any]] = {
    "serial": "C22-0041",
    "product": "HF22-CASE",
    "state": "thin ahead",
    "step": 40,
    "read": "2026-10-01T12:00:00+02:00",
    "entry": 40218,
    "readings": 192,
    "thinnest": {
        "station_mm": 220.0, "angle_deg": 137.0, "wall_mm": 8.79, "zone": "front barrel",
        "lower_mm": 8.7, "upper_mm": 9.3, "state": "inside",
    },
    "expected": {
        "station_mm": 220.0, "angle_deg": 137.0, "zone": "front barrel", "wall_mm": 6.19,
        "u_mm": 0.05, "lower_mm": 6.2, "chance_under": 0.58, "cases": 30,
    },
    "uncovered_share": 0.0,
}  # fmt: skip


class WallIn(BaseModel):
    """A set of readings. A repeated key answers as it did first."""

    model_config = ConfigDict(extra="forbid")

    key: Key
    method: Literal["ultrasonic", "coordinate"]
    gauge: Gauge = ""
    readings: Annotated[list[Row], Field(min_length=1, max_length=MOST_ROWS)]
    """`[station_mm, angle_deg, wall_mm]`, one for each place."""


class WallKept(BaseModel):
    """What was kept."""

    serial: str
    step: int
    entry: int
    readings: int
    revision: str


class PlaceOut(BaseModel):
    """A reading with its limits after the step."""

    station_mm: float
    angle_deg: float
    wall_mm: float
    zone: str
    lower_mm: float | None
    upper_mm: float | None
    state: str


class ExpectedOut(BaseModel):
    """The place likeliest to be thin at finish."""

    station_mm: float
    angle_deg: float
    zone: str
    wall_mm: float
    u_mm: float
    lower_mm: float
    chance_under: float
    cases: int


class WallStanding(BaseModel):
    """The wall of a case by its latest set."""

    serial: str
    product: str
    state: str
    """Empty while nothing was read."""
    step: int | None
    read: str | None
    entry: int | None
    readings: int
    thinnest: PlaceOut | None
    expected: ExpectedOut | None
    """None where no cut is left."""
    uncovered_share: float | None


@router.post(
    "/case/walls/{serial:path}/readings",
    name="wallmaps.keep_api",
    summary="Keep wall readings of a case",
    response_model=WallKept,
    responses=answer(KEPT) | problems(401, 403, 404, 409, 422),
)
def keep(
    caller: Signed, serial: Serial, order: Annotated[WallIn, Body(openapi_examples=KEEP)]
) -> Any:
    """Keep a set of readings of a case that is in work at a step of its wall plan."""
    with caller.ledger.read(caller.site) as read:
        board = read_case(read, serial)
    command = KeepWall(
        serial=serial,
        readings=_readings(board, order),
        method=order.method,
        gauge=order.gauge,
        source=SOURCE,
        key=order.key,
    )
    return caller.ledger.execute(caller.site, command, caller.actor)


def _readings(board: CaseBoard, order: WallIn) -> tuple[WallReading, ...]:
    """The rows judged as those of a file are; without a plan the command refuses anyway."""
    rows = [
        (place, WallReading(station_mm=row[0], angle_deg=row[1] % 360.0, wall_mm=row[2]))
        for place, row in enumerate(order.readings)
    ]
    if board.plan is None:
        return tuple(one for _, one in rows)
    file = judged_rows(rows, expects(board.plan, board.part.step or 0))
    # Rows of a body are counted from 0, those of a file by its lines.
    refuse_bad(file, word="row")
    return file.readings


@router.get(
    "/case/walls/{serial:path}",
    name="wallmaps.one_api",
    summary="The wall of one case",
    response_model=WallStanding,
    responses=answer(STANDING) | problems(401, 404, 422),
)
def one(caller: Bearer, serial: Serial) -> Any:
    """One case: its thinnest place, and what is expected of it at finish."""
    with caller.ledger.read(caller.site) as read:
        return standing(read_case(read, serial), read.site.zone)


def standing(board: CaseBoard, zone: str) -> dict[str, Any]:
    """A case's wall as the API shows it."""
    line, part = board.line, board.part
    head = {"serial": part.serial, "product": part.product}
    if line is None:
        nothing = ("step", "read", "entry", "thinnest", "expected", "uncovered_share")
        return {**head, "state": "", "readings": 0, **dict.fromkeys(nothing)}
    thin, first = line.map.thinnest, line.first
    return {
        **head,
        "state": line.state,
        "step": line.map.step,
        "read": iso_text(line.read.at_us, zone),
        "entry": line.read.number,
        "readings": line.read.readings,
        "thinnest": _place(thin) if thin else None,
        "expected": _expected(first) if first and line.cuts_left else None,
        "uncovered_share": line.map.uncovered_share,
    }


def _place(found: Judged) -> dict[str, Any]:
    return {
        "station_mm": found.reading.station_mm,
        "angle_deg": found.reading.angle_deg,
        "wall_mm": found.reading.wall_mm,
        "zone": found.zone.name,
        "lower_mm": found.limits.lower,
        "upper_mm": found.limits.upper,
        "state": found.state,
    }


def _expected(found: Expected) -> dict[str, Any]:
    return {
        "station_mm": found.point.reading.station_mm,
        "angle_deg": found.point.reading.angle_deg,
        "zone": found.point.zone.name,
        "wall_mm": found.wall_mm,
        "u_mm": found.u_mm,
        "lower_mm": found.point.zone.lower_mm,
        "chance_under": found.chance_under,
        "cases": found.cases,
    }

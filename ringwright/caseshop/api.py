"""The machine week and the board over HTTP: the numbers of the pages."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from ringwright.caseshop.board import Asked, board_json, read_case_board
from ringwright.caseshop.week import read_case_week, week_json
from ringwright.kit.instants import AsOf, as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.people.deps import Bearer

router = APIRouter(prefix="/api", tags=["case shop"])
CASE: Final[dict[str, Any]] = {
    "serial": "C22-0012",
    "step": 20,
    "on": "2026-09-28T06:10:00+02:00",
    "off": "2026-09-30T01:20:00+02:00",
    "hours": 43.1667,
    "planned_set_up_h": 4.0,
    "set_up_h": 4.25,
    "planned_spindle_h": 32.0,
    "cutting_h": 33.5,
    "stopped_h": 5.4,
    "left_h": None,
}
MACHINE: Final[dict[str, Any]] = {
    "machine": "VTL-1",
    "working_h_gone": 60.0,
    "working_h_left": 66.0,
    "set_up_h": 6.5,
    "cutting_h": 44.75,
    "stopped_h": 8.75,
    "cases": [CASE],
}
STOP: Final[dict[str, Any]] = {
    "machine": "VTL-1",
    "reason": "tool broken",
    "times": 2,
    "hours": 3.5,
}
WEEK: Final[dict[str, Any]] = {
    "week": "2026-W40",
    "from": "2026-09-28T00:00:00+02:00",
    "to": "2026-10-05T00:00:00+02:00",
    "machines": [MACHINE],
    "stops": [STOP],
}
PLACEMENT: Final[dict[str, Any]] = {
    "serial": "C22-0014",
    "step": 40,
    "machine": "VTL-2",
    "start": "2026-09-30T06:00:00+02:00",
    "end": "2026-10-01T04:00:00+02:00",
    "set_up_h": 2.0,
    "locked": False,
    "on": False,
}
WAIT: Final[dict[str, Any]] = {
    "step": 40,
    "for": "behind",
    "machine": "VTL-2",
    "behind": "C22-0012",
    "fixture": "",
    "hours": 7.0,
}
LATE: Final[dict[str, Any]] = {
    "serial": "C22-0014",
    "late_h": 6.5,
    "own_h": 0.0,
    "waits": [WAIT],
}
BOARD: Final[dict[str, Any]] = {
    "at": "2026-09-29T10:00:00+02:00",
    "entry": 40305,
    "proposed": False,
    "proved": False,
    "cases_by_week_end": 3,
    "placements": [PLACEMENT],
    "late": [LATE],
    "held": ["C22-0009"],
    "unplanned": [],
}


class OnMachineOut(BaseModel):
    """A case on a machine, planned against actual."""

    serial: str
    step: int
    on: str
    off: str | None
    hours: float
    planned_set_up_h: float | None
    set_up_h: float
    planned_spindle_h: float | None
    cutting_h: float
    stopped_h: float
    left_h: float | None


class MachineOut(BaseModel):
    """The hours of one machine."""

    machine: str
    working_h_gone: float
    working_h_left: float
    set_up_h: float
    cutting_h: float
    stopped_h: float
    cases: list[OnMachineOut]


class StopOut(BaseModel):
    """Stops for one reason."""

    machine: str
    reason: str
    times: int
    hours: float


class CaseWeekOut(BaseModel):
    """The machine week."""

    model_config = ConfigDict(populate_by_name=True)

    week: str
    from_: str = Field(alias="from")
    to: str
    machines: list[MachineOut]
    stops: list[StopOut]


class PlacementOut(BaseModel):
    """An operation of the plan."""

    serial: str
    step: int
    machine: str
    start: str
    end: str
    set_up_h: float
    locked: bool
    on: bool


class LateOut(BaseModel):
    """A late case, and what it waits for."""

    serial: str
    late_h: float
    own_h: float
    waits: list[dict[str, Any]]


class CaseBoardOut(BaseModel):
    """The plan kept, with the hours of now."""

    at: str
    entry: int
    proposed: bool
    proved: bool
    cases_by_week_end: int
    placements: list[PlacementOut]
    late: list[LateOut]
    held: list[str]
    unplanned: list[str]


@router.get(
    "/case/week",
    name="caseshop.week_api",
    summary="The machine week of the case shop",
    response_model=CaseWeekOut,
    responses=answer(WEEK) | problems(401, 422),
)
def week(
    caller: Bearer,
    week: Annotated[str | None, Query(max_length=40, examples=["2026-W40"])] = None,
    as_of: AsOf = None,
) -> Any:
    """What was on each machine in a site week, with its set-up, cutting and stopped hours."""
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        return week_json(read_case_week(read, week))


@router.get(
    "/case/board",
    name="caseshop.board_api",
    summary="The planner's board of the case shop",
    response_model=CaseBoardOut,
    responses=answer(BOARD) | problems(401, 422),
)
def board(caller: Bearer, as_of: AsOf = None) -> Any:
    """The plan kept, each operation with the hours it has now, and why cases are late."""
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        return board_json(read_case_board(read, Asked()))

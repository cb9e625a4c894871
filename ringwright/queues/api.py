"""Queues over HTTP: the numbers of the Queues page, an hour more included."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query
from pydantic import BaseModel

from ringwright.flow.moment import to_the_minute
from ringwright.kit.instants import AsOf, as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.people.deps import Bearer
from ringwright.queues.extra import read_extra
from ringwright.queues.json_form import queues_json
from ringwright.queues.remembered import HOURS, SHEETS
from ringwright.queues.service import USUAL_WEEKS, WEEKS, read_queues

router = APIRouter(prefix="/api", tags=["queues"])

GAIN: Final = {"mean": 0.61, "standard_error": 0.09, "low_95": 0.43, "high_95": 0.79}
QUEUES: Final[dict[str, Any]] = {
    "weeks": 2,
    "neck": "mill-5ax",
    "groups": [
        {
            "code": "mill-5ax",
            "stations": ["MFX-1", "MFX-2"],
            "use": 0.87,
            "in_use_h": 208.8,
            "idle_though_waiting_h": 14.0,
            "starved_h": 11.2,
            "shut_h": 6.0,
            "mean_queue": 3.4,
            "mean_wait_h": 5.1,
            "waiting": [
                {
                    "serial": "B-1042",
                    "product": "HF22-BLADE",
                    "step": 90,
                    "since": "2026-10-01T09:12:00+02:00",
                    "hold": None,
                }
            ],
        }
    ],
    "lines": [
        {
            "product": "HF22-BLADE",
            "neck": "mill-5ax",
            "wip": 71.2,
            "critical_wip": 24.1,
            "out_per_week": 70.5,
            "bottleneck_rate_per_week": 96.4,
            "practical_worst_per_week": 72.9,
            "worst_per_week": 4.0,
            "in_the_cell_h": 169.7,
            "raw_process_h": 42.0,
        }
    ],
    "visits_without_station": 0,
    "extra_hour": {
        "week": "2026-W40",
        "can_say": True,
        "why_not": None,
        "best": "mill-5ax",
        "runs": 40,
        "released_without": {
            "mean": 41.2, "standard_error": 0.7, "low_95": 39.8, "high_95": 42.6,
        },
        "groups": [
            {
                "code": "mill-5ax",
                "added": "beside",
                "begins": "2026-10-01T12:00:00+02:00",
                "hour": GAIN,
                "difference_seen": True,
                "chance_best": 0.94,
                "used": 1.0,
                "shift": {
                    "mean": 4.9, "standard_error": 0.3, "low_95": 4.3, "high_95": 5.5,
                },
                "runs": 40,
            }
        ],
        "left_out": [],
        "planned_steps": [],
    },
}  # fmt: skip


class QueuesOut(BaseModel):
    """The neck, what waits, where hours went, and what an hour more would release."""

    weeks: int
    neck: str | None
    groups: list[dict[str, Any]]
    lines: list[dict[str, Any]]
    visits_without_station: int
    extra_hour: dict[str, Any]


@router.get(
    "/queues",
    name="queues.numbers",
    summary="Which station group is the neck, and what an hour more would release",
    response_model=QueuesOut,
    responses=answer(QUEUES) | problems(401, 403, 422),
)
def numbers(
    caller: Bearer,
    weeks: Annotated[
        int,
        Query(
            description="Weeks back: 1, 2 or 4",
            examples=[USUAL_WEEKS],
            json_schema_extra={"enum": list(WEEKS)},
        ),
    ] = USUAL_WEEKS,
    as_of: AsOf = None,
) -> Any:
    """The numbers of the Queues page, as of now or the past, with an hour more."""
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as snapshot:
        read = to_the_minute(snapshot)
        sheet = SHEETS.answer(read, str(weeks), partial(read_queues, read, weeks))
        return queues_json(sheet, HOURS.answer(read, "hour", partial(read_extra, read)))

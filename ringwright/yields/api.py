"""The yields over HTTP: the numbers of the Yield page."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends
from pydantic import BaseModel

from ringwright.kit.instants import as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.people.deps import Bearer
from ringwright.yields import depth_api
from ringwright.yields.asked import Asked, asked_of
from ringwright.yields.depth_forms import ACCOUNT, SHARE, AccountOut, ShareOut
from ringwright.yields.json_form import yield_json
from ringwright.yields.service import read_yield

router = APIRouter(prefix="/api", tags=["yield"])
router.routes.extend(depth_api.router.routes)

COHORT: Final = {
    "created": 70, "released": 60, "scrapped": 2, "open": 8, "floor": 0.8571, "ceiling": 0.9714,
}  # fmt: skip
REASONS: Final[dict[str, Any]] = {
    "total": 2,
    "by_defect": [{"of": "delamination", "parts": 2}],
    "by_place": [{"of": "root", "parts": 1}, {"of": None, "parts": 1}],
    "by_found": [{"of": 40, "parts": 2}],
    "by_caused": [{"of": 30, "parts": 2}],
    "threads": [{"caused": 30, "found": 40, "parts": 2}],
    "not_placed": 1,
}
YIELD: Final[dict[str, Any]] = {
    "product": "HF22-BLADE",
    "first": "2026-W39",
    "last": "2026-W40",
    "without": None,
    "steps": [
        {
            "number": 10,
            "name": "Material release",
            "visits": 72,
            "first_visits": 70,
            "first_passes": 67,
            "first_pass_yield": SHARE,
            "rework_ratio": SHARE,
            "scrap_ratio": SHARE,
            "fall_off_ratio": 0.0143,
            "rolled": 0.9571,
            "before": SHARE,
            "trend": "steady",
        }
    ],
    "rolled_throughput_yield": 0.9571,
    "rolled_missing": [],
    "final_yield": SHARE,
    "cohort": COHORT,
    "scrap": REASONS,
    "rework": REASONS,
    "weeks": [
        {
            "week": "2026-W40",
            "in_window": True,
            "final_yield": SHARE,
            "lower": 0.8837,
            "upper": 1.0,
            "outside": False,
        }
    ],
    "by": "week",
    "groups": [
        {
            "key": "2026-W40",
            "step": None,
            "first_visits": 70,
            "first_pass_yield": SHARE,
            "rolled_throughput_yield": 0.9571,
            "rework_ratio": SHARE,
            "final_yield": SHARE,
            "cohort": COHORT,
        }
    ],
    "account": ACCOUNT,
}
"""An answer as the API's document shows it."""


class StepYieldOut(BaseModel):
    """One step, over visits ended in the window."""

    number: int
    name: str
    visits: int
    first_visits: int
    first_passes: int
    first_pass_yield: ShareOut
    rework_ratio: ShareOut
    scrap_ratio: ShareOut
    fall_off_ratio: float | None
    rolled: float | None
    before: ShareOut
    trend: str


class CohortOut(BaseModel):
    """Parts created in the window, as of now; floor and ceiling of their yield."""

    created: int
    released: int
    scrapped: int
    open: int
    floor: float | None
    ceiling: float | None


class CountOut(BaseModel):
    """Parts by one reason; null where none was recorded."""

    of: str | int | None
    parts: int


class ThreadOut(BaseModel):
    """Parts from the step that caused to the step that found."""

    caused: int | None
    found: int | None
    parts: int


class ReasonsOut(BaseModel):
    """Each list adds up to the total."""

    total: int
    by_defect: list[CountOut]
    by_place: list[CountOut]
    by_found: list[CountOut]
    by_caused: list[CountOut]
    threads: list[ThreadOut]
    not_placed: int


class PointOut(BaseModel):
    """Final yield of one week with the limits of its p-chart."""

    week: str
    in_window: bool
    final_yield: ShareOut
    lower: float | None
    upper: float | None
    outside: bool


class GroupOut(BaseModel):
    """One week, lot, station, shift, revision or product."""

    key: str
    step: int | None
    first_visits: int
    first_pass_yield: ShareOut
    rolled_throughput_yield: float | None
    rework_ratio: ShareOut
    final_yield: ShareOut
    cohort: CohortOut | None


class YieldOut(BaseModel):
    """The yields of one product over whole weeks."""

    product: str
    first: str
    last: str
    without: str | None
    steps: list[StepYieldOut]
    rolled_throughput_yield: float | None
    rolled_missing: list[str]
    final_yield: ShareOut
    cohort: CohortOut
    scrap: ReasonsOut
    rework: ReasonsOut
    weeks: list[PointOut]
    by: str
    groups: list[GroupOut]
    account: AccountOut


@router.get(
    "/yield",
    name="yields.numbers",
    summary="The yields of one product",
    response_model=YieldOut,
    responses=answer(YIELD) | problems(401, 404, 422),
)
def yields(caller: Bearer, asked: Annotated[Asked, Depends(asked_of)]) -> Any:
    """Yields by step, week and group, with the same filters as the Yield page."""
    with caller.ledger.read(caller.site, as_of_instant(asked.as_of)) as read:
        return yield_json(read_yield(read, asked.question))

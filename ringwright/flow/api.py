"""The week over HTTP."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from ringwright.flow.forecast import forecast_json, read_forecast
from ringwright.flow.published import edition_json, read_editions
from ringwright.flow.service import read_week_numbers, week_json
from ringwright.kit.instants import AsOf, as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.people.deps import Bearer

router = APIRouter(prefix="/api", tags=["week"])


SHARE: Final = {"value": 0.9571, "low": 0.8814, "high": 0.9853, "n": 70}
WEEK: Final[dict[str, Any]] = {
    "product": "HF22-BLADE",
    "week": "2026-W40",
    "from": "2026-09-28T06:00:00+02:00",
    "to": "2026-10-05T06:00:00+02:00",
    "target": 66.0,
    "output": 63,
    "scrapped": 2,
    "created": 70,
    "wip": {"10": 12, "20": 9},
    "cycle_time_h": {"n": 63, "median": 301.5, "mean": 318.25, "p90": 402.0, "plan": 264.0},
    "steps": [
        {
            "number": 10,
            "name": "Material release",
            "visits": 72,
            "first_visits": 70,
            "first_passes": 67,
            "first_pass_yield": SHARE,
            "rework_ratio": 0.0278,
            "touch_h_median": 0.317,
            "queue_h_median": 13.5,
        }
    ],
    "rolled_throughput_yield": 0.9571,
    "final_yield": {"value": 0.9692, "low": 0.8946, "high": 0.9915, "n": 65},
    "cohort": {"created": 70, "released": 3, "scrapped": 1, "open": 66},
}
"""A week as the API's document shows it."""
EDITION: Final[dict[str, Any]] = {
    "product": "HF22-BLADE",
    "week": "2026-W40",
    "edition": 1,
    "entry": 40305,
    "at": "2026-10-05T07:10:00+02:00",
    "by": "manager-1",
    "reason": None,
    "head_seq": 40304,
    "head_hash": "9f2b61c4" * 8,
    "output": 63,
    "numbers": WEEK,
}


class ProportionOut(BaseModel):
    """A proportion, its Wilson 95 % interval, its n; nulls when n is 0."""

    value: float | None
    low: float | None
    high: float | None
    n: int


class CycleTimeOut(BaseModel):
    """Release less creation [h] over the parts released in the week."""

    n: int
    median: float | None
    mean: float | None
    p90: float | None
    plan: float


class StepOut(BaseModel):
    """One step, over visits ended in the week."""

    number: int
    name: str
    visits: int
    first_visits: int
    first_passes: int
    first_pass_yield: ProportionOut
    rework_ratio: float | None
    touch_h_median: float | None
    queue_h_median: float | None


class CohortOut(BaseModel):
    """Parts created in the week and what became of them."""

    created: int
    released: int
    scrapped: int
    open: int


class WeekOut(BaseModel):
    """The numbers of one product and week, as `ringwright week --json` prints them."""

    product: str
    week: str
    # `from` is a word of the language, hence the other names inside.
    start: str = Field(alias="from")
    end: str = Field(alias="to")
    target: float | None
    output: int
    scrapped: int
    created: int
    wip: dict[str, int]
    cycle_time_h: CycleTimeOut
    steps: list[StepOut]
    rolled_throughput_yield: float | None
    final_yield: ProportionOut
    cohort: CohortOut


@router.get(
    "/week",
    name="flow.week_numbers",
    summary="The numbers of one week",
    response_model=WeekOut,
    responses=answer(WEEK) | problems(401, 404, 422),
)
def week(
    caller: Bearer,
    product: Annotated[str, Query(max_length=200, examples=["HF22-BLADE"])],
    week: Annotated[str, Query(pattern=r"^[0-9]{4}-W[0-9]{2}$", examples=["2026-W40"])],
    as_of: AsOf = None,
) -> Any:
    """The numbers of one product and ISO week, as of now or of a past moment."""
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        return week_json(read_week_numbers(read, product, week))


class ForecastOut(BaseModel):
    """The forecast of one product and week, as `ringwright forecast --json` prints it."""

    product: str
    week: str
    as_of: str
    released_so_far: int
    mean: float
    median: int
    low_80: int
    high_80: int
    target: float | None
    probability_of_target: float | None


FORECAST: Final[dict[str, Any]] = {
    "product": "HF22-BLADE",
    "week": "2026-W40",
    "as_of": "2026-10-01T03:10:00+02:00",
    "released_so_far": 21,
    "mean": 57.81,
    "median": 58,
    "low_80": 53,
    "high_80": 63,
    "target": 66.0,
    "probability_of_target": 0.0375,
}


@router.get(
    "/forecast",
    name="flow.forecast",
    summary="The forecast of one week's output",
    response_model=ForecastOut,
    responses=answer(FORECAST) | problems(401, 404, 422),
)
def forecast(
    caller: Bearer,
    product: Annotated[str, Query(max_length=200, examples=["HF22-BLADE"])],
    week: Annotated[str, Query(pattern=r"^[0-9]{4}-W[0-9]{2}$", examples=["2026-W40"])],
    as_of: AsOf = None,
    seed: Annotated[int, Query(ge=0, lt=2**31, examples=[1])] = 1,
) -> Any:
    """What the week will have given in all, made with nothing learned after the moment."""
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        return forecast_json(read_forecast(read, product, week, seed))


class EditionOut(BaseModel):
    """One edition of a published week: its numbers, and the entry they were made from."""

    product: str
    week: str
    edition: int
    entry: int
    at: str
    by: str
    reason: str | None
    head_seq: int
    head_hash: str
    output: int
    numbers: WeekOut


@router.get(
    "/weeks/published",
    name="flow.published",
    summary="The published weeks",
    response_model=list[EditionOut],
    responses=answer([EDITION]) | problems(401, 422),
)
def published(
    caller: Bearer,
    week: Annotated[
        str | None, Query(pattern=r"^[0-9]{4}-W[0-9]{2}$", examples=["2026-W40"])
    ] = None,
    product: Annotated[str | None, Query(max_length=200, examples=["HF22-BLADE"])] = None,
    as_of: AsOf = None,
) -> Any:
    """Every edition of the published weeks, oldest first; of one week or product if given."""
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        editions = read_editions(read, week, product)
        return [edition_json(edition, read.site.zone) for edition in editions]

"""The plan of starts over HTTP: the numbers of the Starts page."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Query
from pydantic import BaseModel

from ringwright.core.errors import Missing
from ringwright.kit.instants import AsOf, as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.people.deps import Bearer
from ringwright.starts.asked import asked_of
from ringwright.starts.service import read_starts, starts_json

router = APIRouter(prefix="/api", tags=["starts"])

STARTS: Final[dict[str, Any]] = {
    "product": "HF22-BLADE",
    "sets": 1,
    "spares": 2,
    "sure": 0.9,
    "wanted": 24,
    "finished": 9,
    "needed": 15,
    "start": 18,
    "chance": 0.9134,
    "plain": 16,
    "plain_chance": 0.6121,
    "from_work_mean": 0.0,
    "through": 0.9412,
    "ladder": [{"sure": 0.9, "start": 18, "chance": 0.9134}],
    "steps": [
        {
            "number": 10,
            "name": "Material release",
            "through": 812,
            "lost": 3,
            "parts_a_load": 1.0,
            "yield": {"value": 0.9957, "low": 0.9901, "high": 0.9988},
            "here": 4,
            "held": 0,
            "late": 0,
            "counted": 4,
        }
    ],
    "time_left_h": 412.5,
}


class RungOut(BaseModel):
    """How many to start for how sure."""

    sure: float
    start: int
    chance: float


class StartsOut(BaseModel):
    """How many parts to start, how sure that is, and what it stands on."""

    product: str
    sets: int
    spares: int
    sure: float
    wanted: int
    finished: int
    needed: int
    start: int
    chance: float
    plain: int
    plain_chance: float
    from_work_mean: float
    through: float
    ladder: list[RungOut]
    steps: list[dict[str, Any]]
    time_left_h: float


@router.get(
    "/starts",
    name="starts.plan",
    summary="How many parts to start",
    response_model=StartsOut,
    responses=answer(STARTS) | problems(401, 404, 422),
)
def plan(
    caller: Bearer,
    product: Annotated[str, Query(min_length=1, max_length=200, examples=["HF22-BLADE"])],
    sets: Annotated[int, Query(ge=1, le=500, examples=[1])] = 1,
    spares: Annotated[int, Query(ge=0, le=5000, examples=[0])] = 0,
    day: Annotated[
        str | None,
        Query(
            max_length=40,
            description="The day by whose end they are wanted",
            examples=["2026-12-24"],
            json_schema_extra={"format": "date"},
        ),
    ] = None,
    as_of: AsOf = None,
) -> Any:
    """How many parts to start for so many sets at 90 % confidence, as of now or the past."""
    said = {"product": product, "sets": str(sets), "spares": str(spares), "day": day or ""}
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        sheet = read_starts(read, asked_of(said))
        if sheet is None:
            raise Missing(f"no product {product!r} at {read.site.name or read.site.code}")
        return starts_json(sheet)

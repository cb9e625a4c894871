"""The yield of welds over HTTP: the numbers of the Weld yield page."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, Final

from fastapi import APIRouter
from pydantic import BaseModel

from ringwright.kit.instants import as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.people.deps import Bearer
from ringwright.weldyield.asked import AskedWelds
from ringwright.weldyield.model import Share, WeldYield
from ringwright.weldyield.service import check_asker, read_weld_yield

router = APIRouter(prefix="/api", tags=["case"])

SHARE: Final = {"good": 57, "n": 60, "value": 0.95, "low": 0.8630, "high": 0.9829}
WELDS: Final[dict[str, Any]] = {
    "product": None,
    "first": "2026-W39",
    "last": "2026-W40",
    "by": "kind",
    "first_readings": SHARE,
    "repaired_before": 0,
    "groups": [{"key": "T-joint", "share": SHARE, "chance": None, "adjusted": None}],
    "metres": 6.6,
    "defects": [{"kind": "2011", "count": 3, "rate": 0.4545, "low": 0.0937, "high": 1.3284}],
    "repairs_of_cases": [0, 3],
    "rework": {"good": 3, "n": 63, "value": 0.0476, "low": 0.0163, "high": 0.1309},
    "delays": [{"what": "weld", "clock_h": [22.5], "worked_h": [14.0]}],
}
"""An answer as the API's document shows it."""


class WeldShareOut(BaseModel):
    """A proportion and its Wilson 95 % interval; nulls when n is 0."""

    good: int
    n: int
    value: float | None
    low: float | None
    high: float | None


class WeldGroupOut(BaseModel):
    """First readings of one group; chances are against all others, alone and by Holm."""

    key: str
    share: WeldShareOut
    chance: float | None
    adjusted: float | None


class DefectRateOut(BaseModel):
    """One kind of defect (ISO 6520-1) a metre of weld, with the exact Poisson interval."""

    kind: str
    count: int
    rate: float
    low: float
    high: float


class DelayOut(BaseModel):
    """Hours from not accepted to accepted, of each weld or case."""

    what: str
    clock_h: list[float]
    worked_h: list[float]


class WeldYieldOut(BaseModel):
    """What first radiographs accepted over whole weeks, and what repairs cost."""

    product: str | None
    first: str
    last: str
    by: str
    first_readings: WeldShareOut
    repaired_before: int
    groups: list[WeldGroupOut]
    metres: float
    defects: list[DefectRateOut]
    repairs_of_cases: list[int]
    rework: WeldShareOut
    delays: list[DelayOut]


@router.get(
    "/case/weld-yield",
    name="weldyield.numbers",
    summary="What first radiographs of welds accepted",
    response_model=WeldYieldOut,
    responses=answer(WELDS) | problems(401, 403, 404, 422),
)
def weld_yield(caller: Bearer, asked: AskedWelds) -> Any:
    """As the Weld yield page has it; by welder only for who may see figures by welder."""
    check_asker(asked.question, caller.actor)
    with caller.ledger.read(caller.site, as_of_instant(asked.as_of)) as read:
        return weld_yield_json(read_weld_yield(read, asked.question))


def weld_yield_json(found: WeldYield) -> dict[str, Any]:
    """The answer as the API gives it."""
    counted = found.counted
    return {
        "product": found.question.product,
        "first": found.weeks[0],
        "last": found.weeks[-1],
        "by": found.question.by,
        "first_readings": _share(counted.first),
        "repaired_before": counted.mended,
        "groups": [
            {
                "key": one.key,
                "share": _share(one.share),
                "chance": one.chance,
                "adjusted": one.adjusted,
            }
            for one in counted.groups
        ],
        "metres": counted.metres,
        "defects": [asdict(one) for one in counted.defects],
        "repairs_of_cases": list(counted.cases),
        "rework": _share(counted.rework),
        "delays": [asdict(one) for one in counted.delays],
    }


def _share(share: Share) -> dict[str, Any]:
    names = ("good", "n", "value", "low", "high")
    return {name: getattr(share, name) for name in names}

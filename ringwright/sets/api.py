"""Sets over HTTP."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Body, Path, Query
from pydantic import BaseModel, ConfigDict, Field

from ringwright.core.calendar import iso_text
from ringwright.core.errors import Missing
from ringwright.kit.instants import AsOf, as_of_instant
from ringwright.kit.problems import answer, problems
from ringwright.ledger.service import Read
from ringwright.people.deps import Bearer, Signed
from ringwright.sets.queries import read_set, read_sets
from ringwright.sets.rules import BladeSet
from ringwright.sets.service import GiveBack, Reserve

router = APIRouter(prefix="/api", tags=["sets"])

# What the rules refuse in their own words stands here for the document alone.
PRINTED: Final[dict[str, Any]] = {"pattern": r"^[^\x00-\x1f\x7f-\x9f]+$"}
Serial = Annotated[str, Field(min_length=1, max_length=200, json_schema_extra=PRINTED)]
SetCode = Annotated[str, Path(alias="set", examples=["HF22-S001"])]
Key = Annotated[str, Field(min_length=1, max_length=200, json_schema_extra=PRINTED)]

SET: Final[dict[str, Any]] = {
    "set": "HF22-S001",
    "product": "HF22-BLADE",
    "slots": ["B-1001", "B-1002", "B-1003", "B-1004"],
}
"""A set of four, as the API's document shows it."""
STANDING: Final[dict[str, Any]] = {
    **SET,
    "state": "fitted",
    "since": "2026-10-01T12:00:00+02:00",
    "fitted": ["B-1001", "B-1002", "B-1003", None],
    "by": "planner-1",
    "entry": 40218,
}
RESERVE: Final = {
    "four": {
        "summary": "Four blades, slot 1 first",
        "value": {
            "key": "plan-000031",
            "product": "HF22-BLADE",
            "slots": ["B-1005", "B-1006", "B-1007", "B-1008"],
        },
    }
}
GIVE_BACK: Final = {
    "off": {
        "summary": "The order is off",
        "value": {"key": "plan-000032", "reason": "the order is off"},
    }
}


class ReserveIn(BaseModel):
    """Keep these blades for a new set, slot 1 first. A repeated key answers as it did first."""

    model_config = ConfigDict(extra="forbid", strict=True)

    key: Key
    product: Serial
    slots: Annotated[list[Serial], Field(min_length=2, max_length=400)]


class GiveBackIn(BaseModel):
    """Give a set up; its blades are free again."""

    model_config = ConfigDict(extra="forbid", strict=True)

    key: Key
    reason: Annotated[str, Field(min_length=1, max_length=10_000)]


class SetOut(BaseModel):
    """A set as its commands answer it."""

    set: str
    product: str
    slots: list[str]


class SetStanding(SetOut):
    """A set and where it stands."""

    state: str
    since: str
    fitted: list[str | None]
    """Serial that stands in slot 1 … N; null where none does."""
    by: str
    entry: int
    """Its last entry."""


class SetsOut(BaseModel):
    """Sets, newest first."""

    sets: list[SetStanding]


@router.post(
    "/sets",
    name="sets.reserve_api",
    summary="Reserve a set",
    status_code=201,
    response_model=SetOut,
    responses=answer(SET, 201) | problems(401, 403, 404, 409, 422),
)
def reserve(caller: Signed, order: Annotated[ReserveIn, Body(openapi_examples=RESERVE)]) -> Any:
    """Reserve every blade of a set, or none: 409 names each that is not free."""
    command = Reserve(key=order.key, product=order.product, slots=tuple(order.slots))
    return caller.ledger.execute(caller.site, command, caller.actor)


@router.post(
    "/sets/{set:path}/give-back",
    name="sets.give_back_api",
    summary="Give a set back",
    response_model=SetOut,
    responses=answer(SET) | problems(401, 403, 404, 409, 422),
)
def give_back(
    caller: Signed,
    code: SetCode,
    order: Annotated[GiveBackIn, Body(openapi_examples=GIVE_BACK)],
) -> Any:
    """Give a set back: its blades are free again."""
    command = GiveBack(key=order.key, set=code, reason=order.reason)
    return caller.ledger.execute(caller.site, command, caller.actor)


@router.get(
    "/sets",
    name="sets.all_api",
    summary="All sets",
    response_model=SetsOut,
    responses=answer({"sets": [STANDING]}) | problems(401, 404, 422),
)
def all_sets(
    caller: Bearer,
    product: Annotated[str | None, Query(max_length=200, examples=["HF22-BLADE"])] = None,
    as_of: AsOf = None,
) -> Any:
    """All sets, of one product if given; as of a past moment as known then."""
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        return {"sets": [standing(read, found) for found in read_sets(read, product)]}


@router.get(
    "/sets/{set:path}",
    name="sets.one_api",
    summary="One set",
    response_model=SetStanding,
    responses=answer(STANDING) | problems(401, 404, 422),
)
def one(caller: Bearer, code: SetCode, as_of: AsOf = None) -> Any:
    """One set and where it stands."""
    if not code.isprintable():
        raise Missing("no set's code holds a control character")
    with caller.ledger.read(caller.site, as_of_instant(as_of)) as read:
        return standing(read, read_set(read, code))


def standing(read: Read, found: BladeSet) -> dict[str, Any]:
    """A set as the API shows it."""
    return {
        "set": found.code,
        "product": found.product,
        "slots": found.slots,
        "state": found.state,
        "since": iso_text(found.times[found.state], read.site.zone),
        "fitted": found.standing(),
        "by": found.by,
        "entry": found.last_seq,
    }

"""Bookings over HTTP."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Body
from pydantic import BaseModel, ConfigDict, Field

from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.kit.instants import instant_of
from ringwright.kit.problems import answer, problems
from ringwright.parts.facts import HISTORY_ACTS, OUTCOMES
from ringwright.parts.views import EVENT, PART, EventOut, PartOut
from ringwright.people.deps import Signed

router = APIRouter(prefix="/api", tags=["bookings"])

# What the rules refuse in their own words stands here for the document alone.
PRINTED: Final = r"^[^\x00-\x1f\x7f-\x9f]+$"
CELL: Final = r"^([^=+\-@\t\x00][^\x00]*)?$"
KEY: Final[dict[str, Any]] = {"pattern": PRINTED}
SERIAL: Final[dict[str, Any]] = {
    "pattern": r"^[^=+\-@\x00-\x1f\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$"
}
Text = Annotated[str | None, Field(max_length=10_000)]
Cell = Annotated[str | None, Field(max_length=10_000, json_schema_extra={"pattern": CELL})]
EXAMPLES: Final = {
    "create": {
        "summary": "A part begins its route",
        "value": {
            "key": "tablet-3-000117",
            "act": "create",
            "serial": "B-2001",
            "product": "HF22-BLADE",
            "lot": "L-88",
        },
    },
    "begin": {
        "summary": "Work begins at a step",
        "value": {
            "key": "tablet-3-000118",
            "act": "begin",
            "serial": "B-1042",
            "step": 10,
            "at": "2026-10-01T12:00:00+02:00",
        },
    },
    "measure": {
        "summary": "A reading within the open visit",
        "value": {
            "key": "tablet-3-000119",
            "act": "measure",
            "serial": "B-1042",
            "step": 10,
            "characteristic": "sheet_thickness",
            "value": 2.412,
            "unit": "mm",
        },
    },
    "end": {
        "summary": "The visit ends with its outcome",
        "value": {
            "key": "tablet-3-000120",
            "act": "end",
            "serial": "B-1042",
            "step": 10,
            "outcome": "pass",
        },
    },
}


class BookingIn(BaseModel):
    """One booking; the fields of a history row. A repeated key answers as it did first."""

    model_config = ConfigDict(extra="forbid", strict=True)

    key: str = Field(min_length=1, max_length=200, json_schema_extra=KEY)
    act: str = Field(max_length=40, json_schema_extra={"enum": list(HISTORY_ACTS)})
    serial: str = Field(min_length=1, max_length=200, json_schema_extra=SERIAL)
    product: Text = None
    step: Annotated[int | None, Field(ge=0, le=999_999_999)] = None
    outcome: Annotated[
        str | None,
        Field(max_length=10_000, json_schema_extra={"enum": [*OUTCOMES, None]}),
    ] = None
    defect: Cell = None
    characteristic: Cell = None
    value: Annotated[float | None, Field(allow_inf_nan=False)] = None
    unit: Text = None
    lot: Cell = None
    station: Cell = None
    by: Cell = None
    reason: Text = None
    gauge: Cell = None
    at: Annotated[
        str | None,
        Field(
            max_length=64,
            description="ISO 8601 with offset; absent: now",
            json_schema_extra={"format": "date-time"},
        ),
    ] = None


class BookingOut(BaseModel):
    """The answer to a booking."""

    event: EventOut
    part: PartOut


@router.post(
    "/bookings",
    name="bench.book",
    summary="Book one act on a part",
    response_model=BookingOut,
    responses=answer({"event": EVENT, "part": PART}) | problems(401, 403, 404, 409, 422),
)
def book(caller: Signed, order: Annotated[BookingIn, Body(openapi_examples=EXAMPLES)]) -> Any:
    """Book one act on a part."""
    booking = make_booking(order.model_dump(exclude={"at"}), instant_of("at", order.at))
    return caller.ledger.execute(caller.site, Book(booking=booking), caller.actor)

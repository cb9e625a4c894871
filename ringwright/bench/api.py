"""Bookings over HTTP."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.kit.instants import instant_of
from ringwright.kit.problems import problems
from ringwright.parts.views import EventOut, PartOut
from ringwright.people.deps import Signed

router = APIRouter(prefix="/api", tags=["bookings"])

Text = Annotated[str | None, Field(max_length=10_000)]


class BookingIn(BaseModel):
    """One booking; the fields of a history row. A repeated key answers as it did first."""

    model_config = ConfigDict(extra="forbid", strict=True)

    key: str = Field(min_length=1, max_length=200)
    act: str = Field(max_length=40, examples=["begin"])
    serial: str = Field(min_length=1, max_length=200)
    product: Text = None
    step: Annotated[int | None, Field(ge=0, le=999_999_999)] = None
    outcome: Text = None
    defect: Text = None
    characteristic: Text = None
    value: Annotated[float | None, Field(allow_inf_nan=False)] = None
    unit: Text = None
    lot: Text = None
    station: Text = None
    by: Text = None
    reason: Text = None
    gauge: Text = None
    at: Annotated[
        str | None, Field(max_length=64, description="ISO 8601 with offset; absent: now")
    ] = None


class BookingOut(BaseModel):
    """The answer to a booking."""

    event: EventOut
    part: PartOut


@router.post(
    "/bookings",
    name="bench.book",
    response_model=BookingOut,
    responses=problems(401, 403, 404, 409, 422),
)
def book(caller: Signed, order: BookingIn) -> Any:
    """Book one act on a part."""
    booking = make_booking(order.model_dump(exclude={"at"}), instant_of("at", order.at))
    return caller.ledger.execute(caller.site, Book(booking=booking), caller.actor)

"""Events and parts as the API shows them."""

from __future__ import annotations

from pydantic import BaseModel


class EventOut(BaseModel):
    """One event of a part."""

    site_seq: int
    key: str | None
    act: str
    serial: str
    step: int | None
    at: str


class PartOut(BaseModel):
    """Where a part stands."""

    serial: str
    product: str
    place: str
    step: int | None
    hold: str | None
    reservation: str | None


class EventKept(EventOut):
    """One event as the record keeps it."""

    approver: str | None = None
    """The second person; the field is there only where one signed."""


class PartHistory(PartOut):
    """A part and all its events in ledger order."""

    events: list[EventKept]

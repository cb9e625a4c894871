"""Events and parts as the API shows them."""

from __future__ import annotations

from typing import Any, Final

from pydantic import BaseModel

EVENT: Final[dict[str, Any]] = {
    "site_seq": 40217,
    "key": "tablet-3-000118",
    "act": "begin",
    "serial": "B-1042",
    "step": 10,
    "at": "2026-10-01T12:00:00+02:00",
}
"""An event as the API's document shows it."""
PART: Final[dict[str, Any]] = {
    "serial": "B-1042",
    "product": "HF22-BLADE",
    "place": "in work",
    "step": 10,
    "hold": None,
    "reservation": None,
}
"""Where its part stands then."""


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

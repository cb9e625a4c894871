"""The rows a part's facts fold into, before any database sees them.

Every row can be asked about the past. As of T a row counts when
`known_from_us < T <= known_to_us`; a moment inside the row (the end of a visit) counts when its
own `..._known_us` lies before T, and is still open otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from operator import attrgetter
from typing import Any

FOREVER_US = 2**62


@dataclass(slots=True, kw_only=True)
class TrackedRow:
    """A row with the span of knowledge in which it was believed."""

    known_from_us: int = 0
    known_to_us: int = FOREVER_US
    version: int = 0


@dataclass(slots=True, kw_only=True)
class VisitRow(TrackedRow):
    """One pass through one step and the wait after it; number 0 is the wait after creation.

    `step` is None on a row that is only a wait. From begin to end the part is in work at
    `step`; from end to leave it waits for `next_step` (None: it does not wait).
    """

    number: int
    step: int | None
    first: bool
    ready_us: int
    begin_us: int
    begin_known_us: int
    end_us: int = FOREVER_US
    end_known_us: int = FOREVER_US
    outcome: str | None = None
    defect: str | None = None
    card: str | None = None
    pause_us: int = 0
    touch_us: int | None = None
    queue_us: int | None = None
    next_step: int | None = None
    leave_us: int = FOREVER_US
    leave_known_us: int = FOREVER_US
    skipped: int = 0
    station: str = ""
    lot: str | None = None
    actor: str = ""
    ended_by: str = ""
    product: str = ""
    revision: str = ""
    part_lot: str | None = None
    """The lot the part itself was created from; `lot` is what the visit used."""
    run: str = ""
    """The furnace run it began with."""


@dataclass(slots=True, kw_only=True)
class ReadingRow(TrackedRow):
    """One characteristic read once, numbered by its entry."""

    number: int
    visit: int
    step: int
    characteristic: str
    value: float
    unit: str
    inside: bool
    at_us: int
    at_known_us: int
    actor: str = ""
    gauge: str | None = None
    product: str = ""
    uncertainty: float | None = None
    repeats: int = 1
    """How many single readings its value is the mean of."""
    suspect: str | None = None
    """Why it cannot be trusted; None while nothing speaks against it."""
    fixture: str | None = None
    torque_n_m: float | None = None
    temperature_c: float | None = None
    recording: str | None = None


@dataclass(slots=True, kw_only=True)
class HoldRow(TrackedRow):
    """A span in which the part must not move, numbered by the entry that began it."""

    number: int
    reason: str
    from_us: int
    from_known_us: int
    to_us: int = FOREVER_US
    to_known_us: int = FOREVER_US


@dataclass(slots=True, kw_only=True)
class NonconformityRow(TrackedRow):
    """A stop and its sentence, numbered by the entry of the stop."""

    number: int
    defect: str
    found_step: int | None
    characteristic: str | None
    place_on_part: str | None
    note: str | None
    opened_us: int
    opened_known_us: int
    opened_by: str
    closed_us: int = FOREVER_US
    closed_known_us: int = FOREVER_US
    decision: str | None = None
    caused_step: int | None = None
    document: str | None = None
    sentence: int | None = None
    """Entry number of the sentence."""
    station: str = ""
    product: str = ""


@dataclass(slots=True, kw_only=True)
class LifeRow(TrackedRow):
    """When the part came, and how it went."""

    number: int = 0
    product: str
    revision: str
    created_us: int
    created_known_us: int
    released_us: int | None = None
    released_known_us: int = FOREVER_US
    scrapped_us: int | None = None
    scrapped_known_us: int = FOREVER_US
    scrap_defect: str | None = None
    scrap_place: str | None = None
    found_step: int | None = None
    caused_step: int | None = None
    witnessed_us: int | None = None
    used_us: int | None = None
    used_known_us: int = FOREVER_US
    sent_us: int | None = None
    lot: str | None = None


@dataclass(slots=True, kw_only=True)
class LinkRow(TrackedRow):
    """One edge of the genealogy, as booked on one of its ends."""

    number: int
    link: str
    parent: str
    child: str
    at_us: int


@dataclass(slots=True, kw_only=True)
class ConditionRow(TrackedRow):
    """A span in which something else was so about the part: where it lay, a search for it, a
    priority, a containment, a notice. Numbered by its entry times ten, and its place there."""

    number: int
    kind: str
    value: str
    note: str | None
    actor: str
    from_us: int
    from_known_us: int
    to_us: int = FOREVER_US
    to_known_us: int = FOREVER_US


TRACKED: tuple[type[TrackedRow], ...] = (
    VisitRow,
    ReadingRow,
    HoldRow,
    NonconformityRow,
    LifeRow,
    LinkRow,
    ConditionRow,
)
SPAN = ("known_from_us", "known_to_us", "version")


def columns_of(row: type[TrackedRow]) -> tuple[str, ...]:
    """The row's fields in stored order: number first, the span of knowledge last."""
    own = [
        field.name for field in fields(row) if field.name not in SPAN and field.name != "number"
    ]
    return ("number", *own, *SPAN)


_values = {row: attrgetter(*columns_of(row)) for row in TRACKED}
_content = {row: attrgetter(*columns_of(row)[:-3]) for row in TRACKED}


def values_of(row: TrackedRow) -> tuple[Any, ...]:
    """All values in stored order."""
    values: tuple[Any, ...] = _values[type(row)](row)
    return values


def content_of(row: TrackedRow) -> tuple[Any, ...]:
    """All values but the span of knowledge."""
    content: tuple[Any, ...] = _content[type(row)](row)
    return content

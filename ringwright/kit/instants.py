"""Instants as requests name them."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query

from ringwright.core.calendar import parse_instant
from ringwright.core.errors import Refused

AsOf = Annotated[
    str | None,
    Query(
        max_length=64,
        description="ISO 8601 with offset: only what was known before it",
        examples=["2026-10-01T12:00:00+02:00"],
        json_schema_extra={"format": "date-time"},
    ),
]


def instant_of(name: str, text: str | None) -> int | None:
    """The instant a request names [us]; raises Refused for one without its offset."""
    if text is None:
        return None
    try:
        return parse_instant(text)
    except ValueError as trouble:
        raise Refused(f"{name} {text!r}: {trouble}") from None


def as_of_instant(as_of: str | None) -> int | None:
    """The moment of an as-of question [us]; None is now."""
    return instant_of("as_of", as_of)

"""How the pages of Traceability are asked: the suspect, the moment, and since when."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Final

from fastapi import Request

from ringwright.core.calendar import iso_text, site_time, wall_us
from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.trace.question import Question, read_question

SINCE: Final = {
    "monday": N_("this Monday"),
    "last-monday": N_("last Monday"),
    "today": N_("today, midnight"),
    "30-days": N_("30 days ago"),
    "ever": N_("the beginning of the record"),
}
"""Beginnings of a window that a person names without looking at a calendar."""


def since_us(word: str, now_us: int, zone: str) -> int | None:
    """The moment a word means at the site; None for the beginning of the record."""
    if word not in SINCE:
        raise Refused(f"since {word[:40]!r} is none of {', '.join(SINCE)}")
    here = site_time(now_us, zone).replace(tzinfo=None)
    midnight = here.replace(hour=0, minute=0, second=0, microsecond=0)
    monday = midnight - timedelta(days=midnight.weekday())
    starts = {
        "today": midnight,
        "monday": monday,
        "last-monday": monday - timedelta(days=7),
        "30-days": midnight - timedelta(days=30),
    }
    return wall_us(starts[word], zone) if word in starts else None


def asked_of(request: Request) -> dict[str, str]:
    """The fields of the address, the last of each."""
    return dict(request.query_params.items())


def question_of(asked: Mapping[str, str], zone: str) -> Question | None:
    """The question of an address; raises Refused."""
    return read_question(asked, zone)


def settled(asked: Mapping[str, str], now_us: int, zone: str) -> dict[str, str] | None:
    """The address with "since last Monday" made a moment; None where it names moments already.

    A moment keeps its meaning when the address is kept; "last Monday" would not.
    """
    if not asked.get("since"):
        return None
    found = {name: text for name, text in asked.items() if name != "since" and text.strip()}
    start = since_us(asked["since"], now_us, zone)
    if start is not None and "from" not in found:
        found["from"] = iso_text(start, zone)
    return found

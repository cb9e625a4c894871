"""What the forms of the Ground rules say, as people, stations, calendars and files."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import Final

from ringwright.core.errors import Refused
from ringwright.core.instants import clock_minutes, clock_text
from ringwright.kit.forms import Given
from ringwright.ledger.transaction import check_code
from ringwright.sites.site import ROLES, Calendar, Overtime, Person, Shift, Station
from ringwright.sites.toml import parse_days

DAY_NAMES: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_HOURS: Final = re.compile(r"(\d{1,2}:\d{2})\s*-\s*(\d{1,2}:\d{2})")


def thing_of(kind: str, given: Given) -> Person | Station | Calendar:
    """The person, station or calendar of a form; raises Refused naming the field."""
    makers: dict[str, Callable[[Given], Person | Station | Calendar]] = {
        "person": _person,
        "station": _station,
        "calendar": _calendar,
    }
    if kind not in makers:
        raise Refused("that is no ground rule to set by hand")
    return makers[kind](given)


def _code(given: Given, name: str, *, needed: bool = True) -> str:
    text = given.text(name)
    if not text:
        if needed:
            raise Refused(f"{name} is missing")
        return ""
    return check_code(name, text)


def _person(given: Given) -> Person:
    roles = given.texts("roles")
    unknown = [role for role in roles if role not in ROLES]
    if unknown:
        raise Refused(f"unknown role {unknown[0][:40]!r}")
    if not roles:
        raise Refused("choose at least one role")
    listed = [text.strip() for text in given.text("authorisations").split(",")]
    return Person(
        code=_code(given, "code"),
        roles=roles,
        authorisations=tuple(check_code("authorisation", text) for text in listed if text),
    )


def _station(given: Given) -> Station:
    return Station(
        code=_code(given, "code"),
        name=given.text("name")[:200],
        group=_code(given, "group", needed=False),
        calendar=_code(given, "calendar", needed=False),
        capacity=given.whole("capacity") or 1,
    )


def _calendar(given: Given) -> Calendar:
    lines = [line.strip() for line in given.text("shifts").splitlines() if line.strip()]
    if not lines:
        raise Refused("write at least one shift")
    since = given.text("effective_from")
    closed = given.text("closed").replace(",", " ").split()
    extra = [line.strip() for line in given.text("overtime").splitlines() if line.strip()]
    return Calendar(
        code=_code(given, "code"),
        effective_from=_date("effective from", since) if since else None,
        shifts=tuple(_shift(line) for line in lines),
        closed=tuple(_date("closed", text) for text in closed),
        overtime=tuple(_overtime(line) for line in extra),
    )


def _overtime(line: str) -> Overtime:
    """Overtime from a line such as `2026-12-05 06:00-12:00`; a name may stand before it."""
    hours = _HOURS.search(line)
    words = line[: hours.start()].split() if hours else []
    if hours is None or not words or line[hours.end() :].strip():
        raise Refused(f"overtime {line[:60]!r} is not like: 2026-12-05 06:00-12:00")
    try:
        start, end = (clock_text(clock_minutes(text)) for text in hours.groups())
    except ValueError as trouble:
        raise Refused(f"overtime {line[:60]!r}: {trouble}") from None
    if start == "24:00":
        raise Refused(f"overtime {line[:60]!r} must start before 24:00")
    day = _date("overtime", words[-1])
    return Overtime(date=day, start=start, end=end, name=" ".join(words[:-1]))


def overtime_line(extra: Overtime) -> str:
    """Overtime as the line that the form takes."""
    return f"{extra.name} {extra.date} {extra.start}-{extra.end}".strip()


def _date(name: str, text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise Refused(f"{name} {text[:40]!r} is not a date like 2026-12-24") from None


def _shift(line: str) -> Shift:
    """A shift from a line such as `early mon-fri 06:00-14:00`; the name may be left out."""
    hours = _HOURS.search(line)
    words = line[: hours.start()].split() if hours else []
    if hours is None or not words or line[hours.end() :].strip():
        raise Refused(f"shift {line[:60]!r} is not like: early mon-fri 06:00-14:00")
    try:
        start, end = (clock_text(clock_minutes(text)) for text in hours.groups())
        days = parse_days(words[-1])
    except ValueError as trouble:
        raise Refused(f"shift {line[:60]!r}: {trouble}") from None
    if start == "24:00":
        raise Refused(f"shift {line[:60]!r} must start before 24:00")
    return Shift(days=days, start=start, end=end, name=" ".join(words[:-1]))


def shift_line(shift: Shift) -> str:
    """A shift as the line that the form takes."""
    days = ",".join(DAY_NAMES[day] for day in shift.days)
    run = shift.days == tuple(range(shift.days[0], shift.days[-1] + 1))
    if run and len(shift.days) > 1:
        days = f"{DAY_NAMES[shift.days[0]]}-{DAY_NAMES[shift.days[-1]]}"
    return f"{shift.name} {days} {shift.start}-{shift.end}".strip()

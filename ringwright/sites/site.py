"""What a site is, as data."""

from __future__ import annotations

from dataclasses import dataclass

ROLES = (
    "maker",
    "inspector",
    "supervisor",
    "planner",
    "manager",
    "quality-engineer",
    "design-authority",
    "administrator",
)


@dataclass(frozen=True, kw_only=True)
class Shift:
    """Working time on some week days, wall clock; an end not after its start is next day."""

    days: tuple[int, ...]
    """Week days the shift starts on, Monday 0 to Sunday 6."""
    start: str
    """HH:MM."""
    end: str
    """HH:MM; "24:00" allowed; at or before `start` means the next day."""
    name: str = ""


@dataclass(frozen=True, kw_only=True)
class Calendar:
    """A calendar revision: shifts from a date on, less closed days."""

    code: str
    effective_from: str | None = None
    """ISO date, site time; None: from the beginning."""
    shifts: tuple[Shift, ...] = ()
    closed: tuple[str, ...] = ()
    """ISO dates on which no shift starts."""


@dataclass(frozen=True, kw_only=True)
class Station:
    """A place where steps are done."""

    code: str
    name: str = ""
    group: str = ""
    calendar: str = ""
    capacity: int = 1


@dataclass(frozen=True, kw_only=True)
class Person:
    """Somebody who acts, by code; roles say what they may do."""

    code: str
    roles: tuple[str, ...]
    authorisations: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Authorisation:
    """What a person may do for a time: one method, on paper. Days are ISO dates, site time."""

    person: str
    method: str
    level: int = 0
    """1, 2 or 3 for non-destructive testing, else 0."""
    valid_from: str
    valid_to: str
    """The last day it is good for."""
    eyesight_to: str | None = None
    """The last day the eyesight test is good for; testing methods need one."""
    certificate: str = ""
    scope: str = ""


@dataclass(frozen=True, kw_only=True)
class SiteFile:
    """The content of a site TOML file."""

    code: str
    name: str
    zone: str
    week_starts: str = "monday 00:00"
    calendars: tuple[Calendar, ...] = ()
    stations: tuple[Station, ...] = ()
    people: tuple[Person, ...] = ()
    authorisations: tuple[Authorisation, ...] = ()

"""What a site is, as data."""

from __future__ import annotations

from dataclasses import dataclass, field

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
class Overtime:
    """Working time on one date beyond its shifts, on a closed one too."""

    date: str
    """ISO date on which it starts, site time."""
    start: str
    """HH:MM."""
    end: str
    """HH:MM, as a shift's."""
    name: str = ""


@dataclass(frozen=True, kw_only=True)
class Calendar:
    """A calendar revision: shifts from a date on, less closed days, with overtime."""

    code: str
    effective_from: str | None = None
    """ISO date, site time; None: from the beginning."""
    shifts: tuple[Shift, ...] = ()
    closed: tuple[str, ...] = ()
    """ISO dates on which no shift starts."""
    overtime: tuple[Overtime, ...] = ()


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
class Gauge:
    """What readings are taken with, by the code it bears."""

    code: str
    kind: str
    """What it is (`moment-scale`), as a characteristic's `gauge_kind` names it."""
    name: str = ""
    unit: str = ""
    uncertainty: float | None = None
    """Standard uncertainty of one reading in `unit`, as its calibration gives it. Of a tap rig:
    how far a frequency moves when a part is clamped anew."""
    resolution: float | None = None
    """Its last digit, in `unit`."""
    station: str = ""
    """The station it stands at; empty: it goes round."""
    also: dict[str, float] = field(default_factory=dict)
    """Other units it reads in, each with its standard uncertainty: a measuring machine tells
    lengths and angles."""
    withdrawn: bool = False
    """Out of use: it decides nothing until it is set in use again."""


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """What a calibration found. Days are ISO dates, site time."""

    gauge: str
    on: str
    due: str
    """The last day it is good for."""
    good: bool = True
    certificate: str = ""
    uncertainty: float | None = None
    """The standard uncertainty it gave; None: as the gauge's record says."""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Master:
    """A part that never leaves the bench, read at the start of a shift to check a gauge."""

    code: str
    gauge_kind: str
    unit: str
    value: float
    """What it reads on a sound gauge."""
    allowed: float
    """The largest difference from that at which the gauge is still sound."""
    name: str = ""
    withdrawn: bool = False

    @property
    def subject(self) -> str:
        """One master may serve gauges of several kinds: what the record calls it for one."""
        return f"{self.code}/{self.gauge_kind}"


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
    gauges: tuple[Gauge, ...] = ()
    calibrations: tuple[Calibration, ...] = ()
    masters: tuple[Master, ...] = ()

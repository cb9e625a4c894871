"""What can happen to a site and to what stands in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteSet(Fact):
    """The site's name, zone and week are these from now on."""

    kind: ClassVar[str] = "site-set"
    subject_kind: ClassVar[str] = "site"
    name: str
    zone: str
    week_starts: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeOpened(Fact):
    """This record is for practice, beside the real site that is its subject; the first fact."""

    kind: ClassVar[str] = "practice-opened"
    subject_kind: ClassVar[str] = "practice"
    of: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarSet(Fact):
    """A calendar has these shifts from its date on."""

    kind: ClassVar[str] = "calendar-set"
    subject_kind: ClassVar[str] = "calendar"
    calendar: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSet(Fact):
    """A station exists, with this group, calendar and capacity."""

    kind: ClassVar[str] = "station-set"
    subject_kind: ClassVar[str] = "station"
    station: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonSet(Fact):
    """A person acts in these roles from now on."""

    kind: ClassVar[str] = "person-set"
    subject_kind: ClassVar[str] = "person"
    person: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class CarrierMoved(Fact):
    """A container or trolley stands somewhere else now, with all that lies in it."""

    kind: ClassVar[str] = "carrier-move"
    subject_kind: ClassVar[str] = "carrier"
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutDown(Fact):
    """A station, recipe, lot or step is shut; the subject says which (`station:FB-3`)."""

    kind: ClassVar[str] = "shut"
    subject_kind: ClassVar[str] = "shutting"
    reason: str
    opener: str
    """A role's or a person's code: who may open it again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedUp(Fact):
    """What was shut is open again."""

    kind: ClassVar[str] = "open"
    subject_kind: ClassVar[str] = "shutting"
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Authorised(Fact):
    """A person may do a method for a time; the subject is `PERSON/METHOD`.

    From its first day on this is the word about that method; what was granted before still
    holds for the days before.
    """

    kind: ClassVar[str] = "authorise"
    subject_kind: ClassVar[str] = "authorisation"
    person: str
    method: str
    level: int
    valid_from: str
    valid_to: str
    eyesight_to: str | None = None
    certificate: str | None = None
    scope: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AuthorisationWithdrawn(Fact):
    """The person may not do it any more, from then on; all that was granted so far ends."""

    kind: ClassVar[str] = "withdraw"
    subject_kind: ClassVar[str] = "authorisation"
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeSet(Fact):
    """A gauge is on the register, with this kind, uncertainty and place."""

    kind: ClassVar[str] = "gauge-set"
    subject_kind: ClassVar[str] = "gauge"
    gauge: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeCalibrated(Fact):
    """A gauge was calibrated: found good until a day, or not."""

    kind: ClassVar[str] = "gauge-calibrated"
    subject_kind: ClassVar[str] = "gauge"
    calibration: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeChecked(Fact):
    """A gauge read a master, and was found sound or not."""

    kind: ClassVar[str] = "gauge-checked"
    subject_kind: ClassVar[str] = "gauge"
    master: str
    value: float
    expected: float
    allowed: float
    unit: str
    good: bool
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeStudied(Fact):
    """A crossed study of a gauge: who read which part as what, in the order given."""

    kind: ClassVar[str] = "gauge-studied"
    subject_kind: ClassVar[str] = "gauge"
    characteristic: str
    unit: str
    readings: list[list[Any]]
    """Each as [part, operator, value]."""
    lower: float | None = None
    upper: float | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeFileMapped(Fact):
    """How the files that a gauge writes are read: a heading's columns and units."""

    kind: ClassVar[str] = "gauge-file-mapped"
    subject_kind: ClassVar[str] = "gauge"
    signature: str
    columns: dict[str, str]
    """Serial and characteristics to the heading of their column."""
    units: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterSet(Fact):
    """A master is kept for gauges of a kind; the subject is `CODE/KIND`."""

    kind: ClassVar[str] = "master-set"
    subject_kind: ClassVar[str] = "master"
    master: dict[str, Any]


FACTS: tuple[type[Fact], ...] = (
    SiteSet,
    PracticeOpened,
    CalendarSet,
    StationSet,
    PersonSet,
    CarrierMoved,
    ShutDown,
    OpenedUp,
    Authorised,
    AuthorisationWithdrawn,
    GaugeSet,
    GaugeCalibrated,
    GaugeChecked,
    GaugeStudied,
    GaugeFileMapped,
    MasterSet,
)

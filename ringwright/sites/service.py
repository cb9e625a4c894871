"""Add or extend a site: its calendars, stations and people."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.errors import Forbidden, Refused
from ringwright.core.facts import Fact
from ringwright.core.instants import midnight_us
from ringwright.ledger.transaction import Draft, Tx
from ringwright.sites.authorising import grant_by_file
from ringwright.sites.facts import CalendarSet, PersonSet, SiteSet, StationSet
from ringwright.sites.gauging import gauges_by_file
from ringwright.sites.queries import read_calendar_codes, read_person
from ringwright.sites.site import Calendar, Person, SiteFile, Station
from ringwright.sites.toml import calendar_to_data, person_to_data, station_to_data

SITE_SUBJECT = "site"
"""A site's own facts stand under this subject: its code may still change while it is bare."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtendSite:
    """Make the site what the file says, adding to what is there."""

    operation: ClassVar[str] = "load site"
    file: SiteFile
    key: str | None = None

    def body(self) -> Any:
        """Unused: a site file is its own content."""
        return self.file.code

    def subject(self) -> str:
        """The site's code."""
        return self.file.code


def extend_site(tx: Tx, command: ExtendSite) -> dict[str, Any]:
    """Record what differs from the site as it is; the same file again changes nothing."""
    file = command.file
    for person in file.people:
        _check_own_codes(tx, person)
    facts: list[tuple[str, Fact, int]] = [
        (SITE_SUBJECT, SiteSet(name=file.name, zone=file.zone, week_starts=file.week_starts), 0)
    ]
    facts += [_calendar_fact(tx, calendar, file.zone) for calendar in file.calendars]
    facts += [(s.code, StationSet(station=station_to_data(s)), 0) for s in file.stations]
    facts += [(p.code, PersonSet(person=person_to_data(p)), 0) for p in file.people]
    added = sum(_record(tx, *fact) for fact in facts)
    added += sum(grant_by_file(tx, paper) for paper in file.authorisations)
    added += gauges_by_file(tx, file)
    return {"site": file.code, "added": added}


def _check_own_codes(tx: Tx, person: Person) -> None:
    """Nobody gives themselves an authorisation, by a word without dates either."""
    if not tx.actor.person or person.code != tx.actor.code:
        return
    now = read_person(tx.connection, tx.site.id, person.code)
    if set(person.authorisations) - set(now.authorisations if now else ()):
        raise Forbidden("nobody grants themselves an authorisation; somebody else must")


def _calendar_fact(tx: Tx, calendar: Calendar, zone: str) -> tuple[str, Fact, int]:
    since = calendar.effective_from
    known_us = min(midnight_us(since, zone), tx.now_us) if since else 0
    return calendar.code, CalendarSet(calendar=calendar_to_data(calendar)), known_us


def _record(tx: Tx, subject: str, fact: Fact, known_us: int | None) -> bool:
    """Append a fact unless it says what is so already; True when it was appended."""
    history = tx.history(fact.subject_kind, subject)
    payload = fact.payload()
    if isinstance(fact, CalendarSet):
        if any(entry.data == payload for entry in history):
            return False
    elif history and history[-1].data == payload:
        return False
    draft = Draft(fact=fact, subject=subject, at_us=tx.now_us, known_us=known_us)
    tx.append(draft, history)
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class SetGroundRule:
    """Add or change one person, station or calendar by hand."""

    operation: ClassVar[str] = "ground rule"
    thing: Person | Station | Calendar
    key: str | None

    def body(self) -> Any:
        """What is set, as JSON values."""
        return _fact_of(self.thing).payload()

    def subject(self) -> str:
        """The thing's code."""
        return self.thing.code


def _fact_of(thing: Person | Station | Calendar) -> Fact:
    if isinstance(thing, Person):
        return PersonSet(person=person_to_data(thing))
    if isinstance(thing, Station):
        return StationSet(station=station_to_data(thing))
    return CalendarSet(calendar=calendar_to_data(thing))


def set_ground_rule(tx: Tx, command: SetGroundRule) -> dict[str, Any]:
    """Record it; raises Refused when a station names a calendar that is not there."""
    thing = command.thing
    if isinstance(thing, Person):
        _check_own_codes(tx, thing)
    if isinstance(thing, Station) and thing.calendar:
        codes = read_calendar_codes(tx.connection, tx.site.id)
        if thing.calendar not in codes:
            known = ", ".join(codes) or "none yet"
            raise Refused(f"there is no calendar {thing.calendar!r} (calendars: {known})")
    added = _record(tx, thing.code, _fact_of(thing), None)
    return {"code": thing.code, "changed": added}

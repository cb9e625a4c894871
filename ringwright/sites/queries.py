"""A site's ground rules, looked up."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, select

from ringwright.core.errors import Missing
from ringwright.core.instants import site_time
from ringwright.db import FOREVER_US
from ringwright.ledger.tables import LedgerHead
from ringwright.sites.rules import Grant, When
from ringwright.sites.site import Authorisation, Calendar, Person, Station
from ringwright.sites.tables import (
    AuthorisationGiven,
    CalendarRevision,
    PersonNow,
    Shutting,
    SiteInfo,
    StationNow,
)
from ringwright.sites.toml import calendar_from_data, person_from_data, station_from_data


def read_site(connection: Connection, site_id: int) -> tuple[str, str, str]:
    """(name, zone, week start) of a site; a site without facts yet is in UTC."""
    row = connection.execute(
        select(SiteInfo.name, SiteInfo.zone, SiteInfo.week_starts).where(
            SiteInfo.site_id == site_id
        )
    ).first()
    return (row.name, row.zone, row.week_starts) if row else ("", "UTC", "monday 00:00")


def practice_site_of(connection: Connection, site_id: int) -> str | None:
    """Code of the practice site beside a real one, or None."""
    real = select(LedgerHead.code).where(LedgerHead.site_id == site_id).scalar_subquery()
    query = select(LedgerHead.code).where(LedgerHead.practice_of == real)
    return connection.execute(query).scalar()


def site_id_of(connection: Connection, code: str) -> int:
    """The number of a site in this store; raises Missing."""
    found = connection.execute(
        select(LedgerHead.site_id).where(LedgerHead.code == code)
    ).scalar()
    if found is None:
        raise Missing(f"no site {code!r} in this store")
    return found


def read_calendars(
    connection: Connection, site_id: int, code: str | None, known_before_us: int = FOREVER_US
) -> tuple[Calendar, ...]:
    """The revisions of a calendar in the order they came; `code` None: the site's first one.

    A calendar that was not known yet at that time is used all the same when no other was.
    """
    query = (
        select(CalendarRevision)
        .where(CalendarRevision.site_id == site_id)
        .order_by(CalendarRevision.number)
    )
    rows = connection.execute(query).all()
    wanted = code or next((row.code for row in rows), None)
    rows = [row for row in rows if row.code == wanted]
    known = [row for row in rows if row.known_us < known_before_us] or rows[:1]
    return tuple(calendar_from_data(json.loads(row.data)) for row in known)


def read_all_calendars(
    connection: Connection, site_id: int, known_before_us: int = FOREVER_US
) -> dict[str, tuple[Calendar, ...]]:
    """Code to revisions of every calendar, the site's own first; each as `read_calendars`."""
    query = (
        select(CalendarRevision)
        .where(CalendarRevision.site_id == site_id)
        .order_by(CalendarRevision.number)
    )
    rows: dict[str, list[Any]] = {}
    for row in connection.execute(query):
        rows.setdefault(row.code, []).append(row)
    return {
        code: tuple(
            calendar_from_data(json.loads(row.data))
            for row in [one for one in own if one.known_us < known_before_us] or own[:1]
        )
        for code, own in rows.items()
    }


def read_calendar_codes(connection: Connection, site_id: int) -> list[str]:
    """Codes of all calendars, the site's own first."""
    query = (
        select(CalendarRevision.code)
        .where(CalendarRevision.site_id == site_id)
        .order_by(CalendarRevision.number)
    )
    return list(dict.fromkeys(connection.execute(query).scalars()))


def read_stations(connection: Connection, site_id: int) -> list[Station]:
    """All stations by code."""
    query = select(StationNow.data).where(StationNow.site_id == site_id)
    rows = connection.execute(query.order_by(StationNow.code)).scalars()
    return [station_from_data(json.loads(data)) for data in rows]


def read_people(connection: Connection, site_id: int) -> list[Person]:
    """All people by code."""
    query = select(PersonNow.data).where(PersonNow.site_id == site_id)
    rows = connection.execute(query.order_by(PersonNow.code)).scalars()
    return [person_from_data(json.loads(data)) for data in rows]


def read_person(connection: Connection, site_id: int, code: str) -> Person | None:
    """One person, or None."""
    data = connection.execute(
        select(PersonNow.data).where(PersonNow.site_id == site_id, PersonNow.code == code)
    ).scalar()
    return person_from_data(json.loads(data)) if data else None


def person_known(connection: Connection, site_id: int, code: str) -> Person:
    """One person; raises Missing."""
    person = read_person(connection, site_id, code)
    if person is None:
        raise Missing(f"no person {code!r} at this site")
    return person


def read_shut(connection: Connection, site_id: int, subjects: Sequence[str]) -> list[Any]:
    """What of these (`station:FB-3`) is shut now, with reason and who may open it."""
    query = select(Shutting).where(
        Shutting.site_id == site_id,
        Shutting.subject.in_(list(subjects)),
        Shutting.to_us == FOREVER_US,
    )
    return list(connection.execute(query.order_by(Shutting.number)))


def when_at(at_us: int, zone: str) -> When:
    """An instant with the site's day that it falls on."""
    return When(at_us=at_us, day=site_time(at_us, zone).date().isoformat())


def read_grants(
    connection: Connection,
    site_id: int,
    zone: str,
    *,
    method: str | None = None,
    known_before_us: int = FOREVER_US,
) -> dict[tuple[str, str], list[Grant]]:
    """(person, method) to what was granted them, as known before a moment."""
    query = select(AuthorisationGiven).where(
        AuthorisationGiven.site_id == site_id,
        AuthorisationGiven.known_us < known_before_us,
    )
    if method is not None:
        query = query.where(AuthorisationGiven.method == method)
    found: dict[tuple[str, str], list[Grant]] = {}
    for row in connection.execute(query.order_by(AuthorisationGiven.number)):
        grant = _grant(row, zone, known_before_us)
        found.setdefault((row.person, row.method), []).append(grant)
    return found


def _grant(row: Any, zone: str, known_before_us: int) -> Grant:
    paper = Authorisation(
        person=row.person,
        method=row.method,
        level=row.level,
        valid_from=row.valid_from,
        valid_to=row.valid_to,
        eyesight_to=row.eyesight_to,
        certificate=row.certificate,
        scope=row.scope,
    )
    common: dict[str, Any] = {
        "number": row.number,
        "paper": paper,
        "granted_by": row.granted_by,
        "at_us": row.at_us,
    }
    if row.withdrawn_us == FOREVER_US or row.withdrawn_known_us >= known_before_us:
        return Grant(**common)
    return Grant(
        **common,
        withdrawn_us=row.withdrawn_us,
        withdrawn_day=when_at(row.withdrawn_us, zone).day,
        withdrawn_by=row.withdrawn_by,
        withdrawn_why=row.withdrawn_why,
    )

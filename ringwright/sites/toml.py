"""Sites from TOML files; calendars, stations and people as the data that the ledger keeps."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import time
from typing import Any

from ringwright.core.errors import Refused
from ringwright.core.fields import Fields, as_data, first_repeated, read_toml, shown
from ringwright.core.instants import clock_minutes, clock_text, known_zone
from ringwright.core.weeks import DAYS, parse_day, week_starts_text
from ringwright.sites.gauge_file import calibration_of, gauge_of, master_of
from ringwright.sites.papers import checked_paper
from ringwright.sites.site import (
    ROLES,
    Authorisation,
    Calendar,
    Overtime,
    Person,
    Shift,
    SiteFile,
    Station,
)


def parse_site(text: str, name: str = "", calendars: Collection[str] = ()) -> SiteFile:
    """The site of a TOML file; anything unsound is refused in one line naming it.

    `calendars` are the codes that the site has already, which a file that extends it may use.
    """
    where = name or "site"
    file = read_toml(text, where)
    file.only(*("site", "calendar", "station", "person", "authorisation"), *("gauge", "master"))
    site = file.under("site", f"{where}: [site]")
    site.only("code", "name", "zone", "week_starts")
    code = site.code("code")
    found = SiteFile(
        code=code,
        name=site.text("name", code),
        zone=_zone(site),
        week_starts=_week_starts(site),
        calendars=tuple(_calendar(fields) for fields in _each(file, "calendar")),
        stations=tuple(_station(fields) for fields in _each(file, "station")),
        people=tuple(_person(fields) for fields in _each(file, "person")),
        authorisations=tuple(_authorisation(f) for f in _each(file, "authorisation")),
        gauges=tuple(gauge_of(fields) for fields in _each(file, "gauge")),
        calibrations=tuple(
            found for fields in _each(file, "gauge") if (found := calibration_of(fields))
        ),
        masters=tuple(master_of(fields) for fields in _each(file, "master")),
    )
    _check_codes(found, where, calendars)
    return found


def parse_days(value: object) -> tuple[int, ...]:
    """Week days, Monday 0, of names, ISO numbers 1-7, ranges "mon-fri", or lists of them."""
    items = value if isinstance(value, list) else [value]
    days: set[int] = set()
    for item in items:
        if isinstance(item, bool) or not isinstance(item, int | str):
            raise ValueError(f"{shown(item)} is not a day of the week")
        for part in str(item).split(","):
            days.update(_span(part))
    if not days:
        raise ValueError("no day is named")
    return tuple(sorted(days))


def calendar_to_data(calendar: Calendar) -> dict[str, Any]:
    """The calendar as JSON-able data with every field; overtime where there is any.

    Calendars were on record before there was overtime: without it they are still the same.
    """
    data = as_data(calendar)
    if not calendar.overtime:
        del data["overtime"]
    return data


def calendar_from_data(data: Mapping[str, Any]) -> Calendar:
    """The calendar that `calendar_to_data` wrote."""
    return Calendar(
        code=data["code"],
        effective_from=data["effective_from"],
        shifts=tuple(
            Shift(days=tuple(s["days"]), start=s["start"], end=s["end"], name=s["name"])
            for s in data["shifts"]
        ),
        closed=tuple(data["closed"]),
        overtime=tuple(Overtime(**one) for one in data.get("overtime", ())),
    )


def station_to_data(station: Station) -> dict[str, Any]:
    """The station as JSON-able data with every field."""
    return as_data(station)


def station_from_data(data: Mapping[str, Any]) -> Station:
    """The station that `station_to_data` wrote."""
    return Station(**data)


def person_to_data(person: Person) -> dict[str, Any]:
    """The person as JSON-able data with every field."""
    return as_data(person)


def person_from_data(data: Mapping[str, Any]) -> Person:
    """The person that `person_to_data` wrote."""
    return Person(
        code=data["code"],
        roles=tuple(data["roles"]),
        authorisations=tuple(data["authorisations"]),
    )


def _each(parent: Fields, key: str) -> list[Fields]:
    found = []
    for place, table in enumerate(parent.tables(key), start=1):
        code = table.get("code") if isinstance(table, dict) else None
        called = shown(code).strip("'") if isinstance(code, str) else f"no. {place}"
        found.append(Fields(table, f"{parent.where}: {key} {called}"))
    return found


def _zone(site: Fields) -> str:
    zone = site.text("zone")
    try:
        known_zone(zone)
    except Refused as refusal:
        site.refuse(refusal.message)
    return zone


def _week_starts(site: Fields) -> str:
    try:
        return week_starts_text(site.text("week_starts", "monday 00:00"))
    except Refused as refusal:
        site.refuse(refusal.message)


def _calendar(calendar: Fields) -> Calendar:
    calendar.only("code", "effective_from", "shift", "closed", "overtime")
    return Calendar(
        code=calendar.code("code"),
        effective_from=calendar.optional_date("effective_from"),
        shifts=tuple(_shift(fields) for fields in _each(calendar, "shift")),
        closed=calendar.dates("closed"),
        overtime=tuple(_overtime(fields) for fields in _each(calendar, "overtime")),
    )


def _overtime(extra: Fields) -> Overtime:
    extra.only("date", "start", "end", "name")
    day = extra.optional_date("date")
    if day is None:
        extra.refuse("date is missing: say on which day it starts")
    start, end = _time_of(extra, "start"), _time_of(extra, "end")
    if start == "24:00":
        extra.refuse("start must be before 24:00")
    return Overtime(date=day, start=start, end=end, name=extra.text("name", ""))


def _shift(shift: Fields) -> Shift:
    if shift.has("closed"):
        # TOML gives a key below [[calendar.shift]] to that shift, seldom what was meant.
        shift.refuse("closed belongs to the calendar; write it above its [[calendar.shift]]")
    shift.only("days", "start", "end", "name")
    try:
        days = parse_days(shift.table.get("days", []))
    except ValueError as problem:
        shift.refuse(f"days: {problem}")
    start, end = _time_of(shift, "start"), _time_of(shift, "end")
    if start == "24:00":
        shift.refuse("start must be before 24:00")
    return Shift(days=days, start=start, end=end, name=shift.text("name", ""))


def _time_of(shift: Fields, key: str) -> str:
    value = shift.table.get(key)
    text = value.isoformat() if isinstance(value, time) else shift.text(key)
    try:
        return clock_text(clock_minutes(text))
    except ValueError as problem:
        shift.refuse(f"{key}: {problem}")


def _station(station: Fields) -> Station:
    station.only("code", "name", "group", "calendar", "capacity")
    return Station(
        code=station.code("code"),
        name=station.text("name", ""),
        group=station.code("group", ""),
        calendar=station.code("calendar", ""),
        capacity=station.whole("capacity", 1),
    )


def _person(person: Fields) -> Person:
    person.only("code", "roles", "authorisations")
    roles = person.codes("roles")
    for role in roles:
        if role not in ROLES:
            person.refuse(f"unknown role {shown(role)}; one of: {', '.join(ROLES)}")
    if not roles:
        person.refuse("roles is missing: name at least one role")
    return Person(
        code=person.code("code"), roles=roles, authorisations=person.codes("authorisations")
    )


def _authorisation(paper: Fields) -> Authorisation:
    paper.only(
        *("person", "method", "level", "valid_from", "valid_to", "eyesight_to"),
        *("certificate", "scope"),
    )
    given = Authorisation(
        person=paper.code("person"),
        method=paper.code("method"),
        level=paper.whole("level", 0, at_least=0),
        valid_from=paper.optional_date("valid_from") or "",
        valid_to=paper.optional_date("valid_to") or "",
        eyesight_to=paper.optional_date("eyesight_to"),
        certificate=paper.code("certificate", ""),
        scope=paper.text("scope", ""),
    )
    try:
        return checked_paper(given)
    except Refused as refusal:
        paper.refuse(refusal.message)


def _check_codes(site: SiteFile, where: str, calendars: Collection[str]) -> None:
    named: dict[str, list[str]] = {
        "calendar": [
            f"{c.code} from {c.effective_from or 'the start'}" for c in site.calendars
        ],
        "station": [station.code for station in site.stations],
        "person": [person.code for person in site.people],
        "gauge": [gauge.code for gauge in site.gauges],
        "master": [master.subject for master in site.masters],
    }
    for kind, codes in named.items():
        twice = first_repeated(codes)
        if twice is not None:
            raise Refused(f"{where}: {kind} {twice} stands twice")
    known = {calendar.code for calendar in site.calendars} | set(calendars)
    for station in site.stations:
        if station.calendar and station.calendar not in known:
            raise Refused(
                f"{where}: station {station.code}: calendar {station.calendar} is not there"
            )


def _span(text: str) -> set[int]:
    first, dash, last = text.partition("-")
    begin = _day(first)
    finish = _day(last) if dash else begin
    return {(begin + step) % 7 for step in range((finish - begin) % 7 + 1)}


def _day(text: str) -> int:
    word = text.strip()
    if word.isascii() and word.isdigit():
        if not 1 <= int(word[:2]) <= len(DAYS) or len(word) > 1:
            raise ValueError(f"{shown(word)} is not a day from 1 (Monday) to 7 (Sunday)")
        return int(word) - 1
    return parse_day(word)

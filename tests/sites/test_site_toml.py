"""Sites from TOML: zone, week, calendars, stations and people, or one plain refusal."""

from __future__ import annotations

import json

import pytest

from ringwright.core.errors import Refused
from ringwright.sites.site import Calendar, Person, Shift, SiteFile, Station
from ringwright.sites.toml import (
    calendar_from_data,
    calendar_to_data,
    parse_days,
    parse_site,
    person_from_data,
    person_to_data,
    station_from_data,
    station_to_data,
)

SITE = """
[site]
code = "HOLMFELL"
name = "Holmfell Rotor Works"
zone = "Europe/Oslo"
week_starts = "Mon 06:00"

[[calendar]]
code = "three-shift"
effective_from = 2026-01-05
closed = [2026-12-25, "2026-12-24"]

[[calendar.shift]]
days = ["mon-fri"]
start = "06:00"
end = 14:00:00
name = "Early"

[[calendar.shift]]
days = [7, 1]
start = "22:00"
end = "6:00"

[[station]]
code = "F1"
name = "Furnace 1"
group = "furnace"
calendar = "three-shift"
capacity = 8

[[station]]
code = "B1"

[[person]]
code = "quality-1"
roles = ["quality-engineer", "inspector"]
authorisations = ["radiography"]

[[person]]
code = "maker-1"
roles = "maker"
"""


def refusal_of(text: str) -> str:
    """The line with which the file is refused."""
    with pytest.raises(Refused) as refusal:
        parse_site(text, "site.toml")
    assert "\n" not in refusal.value.message
    return refusal.value.message


def test_every_field_of_the_file_reaches_the_site() -> None:
    assert parse_site(SITE, "site.toml") == SiteFile(
        code="HOLMFELL",
        name="Holmfell Rotor Works",
        zone="Europe/Oslo",
        week_starts="monday 06:00",
        calendars=(
            Calendar(
                code="three-shift",
                effective_from="2026-01-05",
                shifts=(
                    Shift(days=(0, 1, 2, 3, 4), start="06:00", end="14:00", name="Early"),
                    Shift(days=(0, 6), start="22:00", end="06:00"),
                ),
                closed=("2026-12-24", "2026-12-25"),
            ),
        ),
        stations=(
            Station(
                code="F1",
                name="Furnace 1",
                group="furnace",
                calendar="three-shift",
                capacity=8,
            ),
            Station(code="B1"),
        ),
        people=(
            Person(
                code="quality-1",
                roles=("quality-engineer", "inspector"),
                authorisations=("radiography",),
            ),
            Person(code="maker-1", roles=("maker",)),
        ),
    )


def test_the_smallest_site_has_a_code_and_a_zone() -> None:
    site = parse_site('[site]\ncode = "S"\nzone = "Asia/Kolkata"')

    assert site == SiteFile(code="S", name="S", zone="Asia/Kolkata")


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        ("mon", (0,)),
        ("Monday", (0,)),
        (["mon-fri"], (0, 1, 2, 3, 4)),
        ("fri-mon", (0, 4, 5, 6)),
        ("mon, Wed,thurs", (0, 2, 3)),
        ([1, 7], (0, 6)),
        (3, (2,)),
        ("1-5", (0, 1, 2, 3, 4)),
        (["sat", "sunday", 6], (5, 6)),
    ],
)
def test_days_are_names_iso_numbers_or_ranges(days: object, expected: tuple[int, ...]) -> None:
    assert parse_days(days) == expected


@pytest.mark.parametrize(
    "days", [[], "", "mo", "someday", 0, 8, 10, "12", True, 1.0, "mon-", "-"]
)
def test_a_day_that_is_none_is_refused(days: object) -> None:
    with pytest.raises(ValueError, match="day"):
        parse_days(days)


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("[site]", "[cell]", "unknown key 'cell'"),
        ("week_starts", "week_start", "[site]: unknown key 'week_start'"),
        ("effective_from", "from", "calendar three-shift: unknown key 'from'"),
        ("capacity", "places", "station F1: unknown key 'places'"),
        ("authorisations", "approvals", "person quality-1: unknown key 'approvals'"),
        ("Europe/Oslo", "Europe/Holmfell", "[site]: unknown time zone 'Europe/Holmfell'"),
        ('zone = "Europe/Oslo"\n', "", "[site]: zone is missing"),
        ("Mon 06:00", "Mon noon", "[site]: week_starts 'Mon noon' is not a day and time"),
        ('"Mon 06:00"', "1", "[site]: week_starts must be text"),
        ('code = "HOLMFELL"\n', "", "[site]: code is missing"),
        ('["mon-fri"]', '["mon-fry"]', "calendar three-shift: shift no. 1: days: 'fry'"),
        ('days = ["mon-fri"]\n', "", "shift no. 1: days: no day is named"),
        ("[7, 1]", "[8]", "shift no. 2: days: '8' is not a day from 1"),
        ('"06:00"\nend', '"24:00"\nend', "shift no. 1: start must be before 24:00"),
        ('"06:00"\nend', '"6 am"\nend', "shift no. 1: start: '6 am' is not a time of day"),
        ("14:00:00", "14:00:30", "shift no. 1: end: '14:00:30' is not a time of day"),
        ('end = "6:00"\n', "", "shift no. 2: end is missing"),
        ('name = "Early"', "closed = [2026-12-25]", "write it above its [[calendar.shift]]"),
        ("2026-12-25,", '"Christmas",', "closed must be a date such as"),
        ("2026-12-25,", "2026-12-25T00:00:00Z,", "closed must be a date such as"),
        (
            'calendar = "three-shift"',
            'calendar = "two"',
            "station F1: calendar two is not there",
        ),
        ('"B1"', '"F1"', "station F1 stands twice"),
        ('"maker-1"', '"quality-1"', "person quality-1 stands twice"),
        ("capacity = 8", "capacity = 0", "station F1: capacity must be from 1"),
        ('"inspector"]', '"boss"]', "person quality-1: unknown role 'boss'"),
        ('roles = "maker"', "roles = []", "person maker-1: roles is missing"),
        ('roles = "maker"', "roles = [1]", "person maker-1: roles must be text"),
        ('"maker-1"', '"=maker"', "code '=maker' must not begin with"),
        ("[[station]]", "[station]", "not valid TOML"),
    ],
)
def test_what_is_unsound_is_refused_in_one_line_that_names_it(
    old: str, new: str, line: str
) -> None:
    assert old in SITE

    refused = refusal_of(SITE.replace(old, new, 1))

    assert refused.startswith("site.toml: ")
    assert line in refused


def test_a_calendar_may_have_revisions_but_not_two_of_one_date() -> None:
    revision = '\n[[calendar]]\ncode = "three-shift"\neffective_from = "2026-06-01"\n'

    assert len(parse_site(SITE + revision).calendars) == 2
    assert "three-shift from 2026-06-01 stands twice" in refusal_of(SITE + revision + revision)


def test_a_file_that_extends_a_site_may_name_its_calendars() -> None:
    extension = '[site]\ncode="H"\nzone="UTC"\n[[station]]\ncode="F2"\ncalendar="three-shift"'

    assert parse_site(extension, "more.toml", ["three-shift"]).stations[0].code == "F2"
    assert "calendar three-shift is not there" in refusal_of(extension)


def test_calendars_stations_and_people_come_back_from_the_ledger_as_they_went_in() -> None:
    site = parse_site(SITE)

    def stored(data: dict[str, object]) -> dict[str, object]:
        assert json.loads(json.dumps(data)) == data
        return data

    for calendar in site.calendars:
        assert calendar_from_data(stored(calendar_to_data(calendar))) == calendar
    for station in site.stations:
        assert station_from_data(stored(station_to_data(station))) == station
    for person in site.people:
        assert person_from_data(stored(person_to_data(person))) == person


def test_overtime_is_read_and_a_line_without_its_date_is_refused() -> None:
    text = SITE_OF_OVERTIME
    found = parse_site(text, "site").calendars[0].overtime

    assert [(one.date, one.start, one.end, one.name) for one in found] == [
        ("2026-12-05", "06:00", "12:00", "catch up")
    ]
    for wrong, why in (
        (text.replace("date = 2026-12-05\n", ""), "date is missing"),
        (text.replace('start = "06:00"', 'start = "24:00"'), "start must be before 24:00"),
        (text.replace('end = "12:00"', 'end = "noon"'), "end"),
        (text + "days = [1]\n", "unknown key 'days'"),
    ):
        with pytest.raises(Refused, match=why):
            parse_site(wrong, "site")


SITE_OF_OVERTIME = """
[site]
code = "X"
zone = "Europe/Oslo"
[[calendar]]
code = "shop"
[[calendar.overtime]]
name = "catch up"
date = 2026-12-05
start = "06:00"
end = "12:00"
"""

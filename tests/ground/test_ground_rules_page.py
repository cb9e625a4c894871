"""The Ground rules page: shown to all, changed by an administrator, all or nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from ringwright.ground.forms import overtime_line, shift_line
from ringwright.ground.service import CSV_BYTES, TOML_BYTES
from ringwright.people.rules import PERMISSIONS
from ringwright.sites.queries import read_calendars, read_people, read_stations
from tests.make.bench import ROUTE, SITE, Screen, ground_parts, open_bench


@pytest.fixture
def screen(sqlite_url: str) -> Iterator[Screen]:
    """The administrator at a screen of the small shop."""
    ledger = open_bench(sqlite_url)
    yield Screen(sqlite_url, ledger, "adm-1")
    ledger.store.close()


def post(screen: Screen, place: str, **data: Any) -> Any:
    return screen.client.post(f"/ground/{place}", data=data)


def test_it_shows_products_stations_calendars_and_people(screen: Screen) -> None:
    page = screen.client.get("/ground").text

    for told in ("VANE", "Bench 4", "day mon-fri 06:00-22:00", "insp-1", "Europe/Oslo"):
        assert told in page


def test_every_permission_stands_in_the_table(screen: Screen) -> None:
    page = screen.client.get("/ground").text

    assert page.count("<td>may</td>") == sum(len(roles) for roles in PERMISSIONS.values())


def test_a_route_card_is_printed_with_limits_and_rework_cards(screen: Screen) -> None:
    page = screen.client.get("/ground/routes/VANE").text

    for told in ("20", "Inspect", "9.50 to 10.50", "nominal 10.00", "Grind again"):
        assert told in page


def test_a_person_is_added_by_hand(screen: Screen) -> None:
    told = post(screen, "rules", kind="person", code="insp-9", roles=["inspector", "maker"])

    with screen.ledger.read("NORD") as look:
        found = {p.code: p.roles for p in read_people(look.connection, look.site.id)}
    assert told.status_code == 200
    assert found["insp-9"] == ("inspector", "maker")


def test_a_station_needs_a_calendar_that_is_there_and_keeps_what_was_typed(
    screen: Screen,
) -> None:
    told = post(screen, "rules", kind="station", code="B9", name="Bench nine", calendar="moon")

    with screen.ledger.read("NORD") as look:
        codes = [s.code for s in read_stations(look.connection, look.site.id)]
    assert told.status_code == 422
    assert "no calendar" in told.text
    assert 'value="Bench nine"' in told.text
    assert codes == ["B4"]


def test_a_calendar_is_set_line_by_line(screen: Screen) -> None:
    shifts = "early mon-fri 06:00-14:00\nnight mon,wed 22:00-06:00"
    told = post(
        screen, "rules", kind="calendar", code="two", shifts=shifts, closed="2026-12-25",
        overtime="catch up 2026-12-05 06:00-12:00",
    )  # fmt: skip

    with screen.ledger.read("NORD") as look:
        found = read_calendars(look.connection, look.site.id, "two")[0]
    assert told.status_code == 200
    assert [shift_line(shift) for shift in found.shifts] == shifts.split("\n")
    assert found.closed == ("2026-12-25",)
    assert [overtime_line(one) for one in found.overtime] == ["catch up 2026-12-05 06:00-12:00"]
    assert "catch up 2026-12-05 06:00-12:00" in told.text


@pytest.mark.parametrize(
    "line",
    ["mon-fri", "06:00-14:00", "early funday 06:00-14:00", "mon 6-14", "mon 25:00-26:00"],
)
def test_a_shift_that_cannot_be_read_is_refused_and_kept(screen: Screen, line: str) -> None:
    told = post(screen, "rules", kind="calendar", code="bad", shifts=line)

    assert told.status_code == 422
    assert line in told.text


@pytest.mark.parametrize("who", ["insp-1", "sup-1"])
def test_only_an_administrator_changes_ground_rules(screen: Screen, who: str) -> None:
    screen.choose(who)
    before = screen.ledger.head("NORD")

    by_hand = post(screen, "rules", kind="person", code="x", roles="maker")
    by_file = post(screen, "files", kind="route", pasted=ROUTE.replace("VANE", "OTHER"))

    assert (by_hand.status_code, by_file.status_code) == (403, 403)
    assert screen.ledger.head("NORD") == before


def test_a_route_card_is_pasted_once_and_then_unchanged(screen: Screen) -> None:
    text = ROUTE.replace("VANE", "FIN")

    first = post(screen, "files", kind="route", pasted=text)
    again = post(screen, "files", kind="route", pasted=text)

    assert "Kept: route card FIN 1." in first.text
    assert "is so already" in again.text


def test_a_site_file_of_another_site_is_refused(screen: Screen) -> None:
    own = post(screen, "files", kind="site", pasted=SITE + '[[station]]\ncode = "B5"\n')
    other = post(screen, "files", kind="site", pasted=SITE.replace("NORD", "SUD"))

    assert own.status_code == 200
    assert other.status_code == 422
    assert "site SUD" in other.text
    assert [code for code, _ in screen.ledger.sites()] == ["NORD"]


def test_a_history_file_is_taken_in_whole(screen: Screen) -> None:
    files = {"file": ("more.csv", ground_parts("V-8", "V-9").encode())}

    told = screen.client.post("/ground/files", data={"kind": "history"}, files=files)

    assert "more.csv taken in: 6 entries." in told.text
    assert screen.part("V-9").step == 20


def test_every_bad_line_of_a_history_is_named_and_nothing_is_kept(screen: Screen) -> None:
    text = ground_parts("V-8") + "2026-10-01T10:00+02:00,V-8,VANE,begin,99,,,,,,,,\n" * 2
    text += "never,V-8,VANE,begin,20,,,,,,,,\n"

    told = post(screen, "files", kind="history", pasted=text)

    assert told.status_code == 422
    assert '<th scope="row">5</th>' in told.text
    assert '<th scope="row">7</th>' in told.text
    assert "V-8" in told.text
    assert screen.client.get("/bench", params={"scan": "V-8"}).status_code == 422


@pytest.mark.parametrize(
    ("kind", "size"), [("route", TOML_BYTES), ("site", TOML_BYTES), ("history", CSV_BYTES)]
)
def test_a_file_above_its_limit_is_refused(screen: Screen, kind: str, size: int) -> None:
    files = {"file": ("big", b"#" * (size + 1))}

    told = screen.client.post("/ground/files", data={"kind": kind}, files=files)

    assert told.status_code == 422
    assert "is larger than" in told.text


def test_a_file_that_is_no_utf8_is_refused(screen: Screen) -> None:
    files = {"file": ("odd.csv", b"\xff\xfe\x00a")}

    told = screen.client.post("/ground/files", data={"kind": "history"}, files=files)

    assert "not UTF-8" in told.text


def test_a_practice_site_is_opened_from_the_page_and_led_to(screen: Screen) -> None:
    told = post(screen, "practice", parts="2")

    assert (told.status_code, told.headers["location"]) == (
        303,
        "/ground?site=NORD-PRACTICE#practice",
    )
    there = screen.client.get("/ground?site=NORD-PRACTICE").text
    assert "This is the practice site of NORD." in there
    here = screen.client.get("/ground").text
    assert 'href="/bench?site=NORD-PRACTICE">Practise at NORD-PRACTICE</a>' in here
    assert "c-watermark" in there
    assert "c-watermark" not in here


def test_only_an_administrator_opens_one_and_of_a_sound_number(screen: Screen) -> None:
    told = post(screen, "practice", parts="many")
    assert told.status_code == 422
    assert 'value="many"' in told.text
    screen.choose("insp-1")

    assert post(screen, "practice", parts="2").status_code == 403
    assert set(screen.ledger.heads()) == {"NORD"}


def test_a_site_file_loaded_there_is_refused(screen: Screen) -> None:
    post(screen, "practice", parts="")
    file = '[site]\ncode = "NORD-PRACTICE"\nzone = "Europe/Oslo"\n'

    told = screen.client.post(
        "/ground/files?site=NORD-PRACTICE", data={"kind": "site", "pasted": file}
    )

    assert told.status_code == 422
    assert "practice site of NORD and stays one" in told.text

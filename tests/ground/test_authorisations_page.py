"""Authorisations as a browser sees them: granted, listed, withdrawn; shown before the press."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.queries import read_grants
from tests.make.bench import ROUTE, Screen, ground_parts, open_bench
from tests.make.figures import csv_table

ASKING = ROUTE.replace('name = "Inspect"\n', 'name = "Inspect"\nauthorisation = "VT-2"\n')
PAPER = {
    "act": "authorise",
    "person": "insp-1",
    "method": "VT",
    "level": "2",
    "valid_from": "2026-01-01",
    "valid_to": "2026-10-20",
    "eyesight_to": "2026-10-05",
    "certificate": "C-1",
}


@pytest.fixture
def screen(sqlite_url: str) -> Iterator[Screen]:
    """The quality engineer at a screen; V-9 waits for an inspection that asks VT-2."""
    ledger = open_bench(sqlite_url)
    card = parse_route(ASKING.replace("VANE", "PLATE"), "route")
    ledger.execute("NORD", LoadRoute(card=card), SYSTEM)
    rows = read_csv(ground_parts("V-9").replace("VANE", "PLATE"))
    ledger.execute("NORD", LoadHistory(rows=rows), SYSTEM)
    yield Screen(sqlite_url, ledger, "qe-1")
    ledger.store.close()


def send(screen: Screen, **other: Any) -> Any:
    """Send the grant's form, or the withdrawal's."""
    data = {"key": f"k{sorted(other.items())}"[:150], **PAPER, **other}
    place = "withdrawals" if data["act"] == "withdraw" else "authorisations"
    return screen.client.post(f"/ground/{place}", data=data)


def bench(screen: Screen, who: str) -> str:
    """The part on the Bench, as that person sees it."""
    screen.choose(who)
    return str(screen.client.get("/bench", params={"scan": "V-9"}).text)


def test_the_bench_says_before_the_press_who_holds_what_the_step_asks(screen: Screen) -> None:
    assert "insp-1 holds no authorisation for VT-2." in bench(screen, "insp-1")
    assert "Nobody here holds it today." in bench(screen, "insp-1")
    screen.choose("qe-1")
    send(screen)

    assert "Asks VT-2: insp-1 holds it, to 2026-10-05." in bench(screen, "insp-1")
    assert "Held by insp-1." in bench(screen, "make-1")
    assert "Asks" not in screen.client.get("/bench", params={"scan": "V-1"}).text


def test_the_press_is_refused_with_who_could_do_it_and_whom_to_call(screen: Screen) -> None:
    send(screen)
    screen.choose("make-1")

    told = screen.press("V-9", "begin")

    assert told.status_code == 403
    assert "valid on 2026-10-01: insp-1. Hold the part" in told.text
    assert 'href="/callout"' in told.text.split("c-refusal__call")[1]
    screen.choose("insp-1")
    assert screen.press("V-9", "begin").status_code == 303


def test_it_is_granted_listed_with_what_lapses_and_withdrawn(screen: Screen) -> None:
    assert send(screen).status_code == 303
    page = screen.client.get("/ground/authorisations").text
    head, *rows = csv_table(
        screen.client.get("/ground/authorisations/file.csv?sheet=lapsing").content
    )[1]

    assert "0 lapsed, 2 about to lapse" in page
    assert head[0] == "Person"
    assert [row[3] for row in rows] == ["2026-10-05", "2026-10-20"]
    assert "2 about to lapse" in screen.client.get("/ground").text
    told = send(screen, act="withdraw", which="insp-1/VT", reason="missed a crack")
    assert told.status_code == 303
    page = screen.client.get("/ground/authorisations").text
    assert "withdrawn 2026-10-01: missed a crack" in page
    assert "Nothing has lapsed" in page


@pytest.mark.parametrize(
    ("who", "given", "status", "said"),
    [
        ("insp-1", {}, 403, "may not do this"),
        ("qe-1", {"person": "qe-1"}, 403, "themselves"),
        ("qe-1", {"eyesight_to": ""}, 422, "eyesight"),
        ("qe-1", {"level": ""}, 422, "needs its level"),
        ("qe-1", {"valid_to": "soon"}, 422, "is not a date"),
        ("qe-1", {"person": "stranger"}, 404, "no person"),
        ("qe-1", {"act": "withdraw", "which": "insp-1/VT", "reason": "x"}, 422, "no dated"),
        ("qe-1", {"act": "withdraw", "which": "", "reason": "x"}, 422, "choose which"),
        ("qe-1", {"key": ""}, 422, "no key"),
    ],
)
def test_what_is_refused_is_told_and_what_was_typed_stays(
    screen: Screen, who: str, given: dict[str, str], status: int, said: str
) -> None:
    screen.choose(who)

    told = send(screen, **given)

    assert told.status_code == status
    assert said in told.text
    turned_away = who == "insp-1"  # at the door, before the form was looked at
    assert turned_away or given.get("act") == "withdraw" or 'value="C-1"' in told.text
    with screen.ledger.read("NORD") as read:
        assert read_grants(read.connection, read.site.id, "Europe/Oslo") == {}


def test_a_testing_code_without_dates_is_listed_as_not_counting(screen: Screen) -> None:
    screen.choose("adm-1")
    screen.client.post(
        "/ground/rules",
        data={"kind": "person", "code": "insp-1", "roles": "inspector",
              "authorisations": "VT-2, weld-tig, self-inspection", "key": "p"},
    )  # fmt: skip

    page = screen.client.get("/ground/authorisations").text

    assert "does not count: a code without level, dates, eyesight test" in page
    assert "valid: a code without dates" in page
    assert "1 lapsed, 0 about to lapse" in page
    assert "code alone, without level, dates and eyesight test" in bench(screen, "insp-1")

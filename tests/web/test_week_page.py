"""The Week page against the same record asked another way."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.flow.service import read_week_numbers
from ringwright.ledger.service import Ledger
from tests.make import shop
from tests.make.html import read

ACCOUNT = (
    "0 opening + 4 created + 0 reopened = 2 released + 1 scrapped + 0 used in test or making"
    " + 1 closing"
)


def text_of(client: TestClient, address: str, **headers: str) -> str:
    """All that a person reads on the page, spaces evened out."""
    return " ".join(" ".join(read(client.get(address, headers=headers).text).texts).split())


def test_the_page_shows_the_numbers_that_the_command_prints(
    client: TestClient, ledger: Ledger
) -> None:
    with ledger.read("NORD") as snapshot:
        numbers = read_week_numbers(snapshot, "VANE", "2026-W40")
    page = text_of(client, "/week")

    assert (numbers.output, numbers.scrapped, numbers.created) == (2, 1, 4)
    assert "2 out of 4" in page
    assert ACCOUNT in page
    assert "It balances." in page
    assert "chatter marks 20 Inspect" in page
    # Wilson 95 % of 2 in 3 by the formula of Wilson (1927), worked by hand: 0.2077 to 0.9385.
    assert "(20.8 to 93.9), n 3 small n" in page


def test_pace_counts_working_hours_only(client: TestClient) -> None:
    # Mon to Fri 06:00 to 22:00 are 80 h; by Thursday noon 54 h are gone: 4 x 54 / 80 = 2.7.
    assert "2.7 promised by now" in text_of(client, "/week")
    assert "26 h of work left" in text_of(client, "/week")


def test_a_booking_changes_the_page_and_its_mark(client: TestClient, ledger: Ledger) -> None:
    first = client.get("/week", headers={"HX-Request": "true"})
    mark = first.headers["HX-PTag"]
    asks = {"HX-Request": "true", "HX-PTag": mark}
    assert client.get("/week", headers=asks).status_code == 304

    more = shop.HEADER + shop.events("V-005", "2026-10-01")
    ledger.execute("NORD", LoadHistory(rows=read_csv(more)), SYSTEM)
    second = client.get("/week", headers=asks)

    assert second.status_code == 200
    assert second.headers["HX-PTag"] != mark
    assert "3</b> out of 4" in second.text


def test_an_unchanged_page_is_drawn_again_when_the_minute_has_passed(
    client: TestClient, ledger: Ledger
) -> None:
    mark = client.get("/week", headers={"HX-Request": "true"}).headers["HX-PTag"]

    ledger.clock.at_us += 60_000_000  # type: ignore[attr-defined]

    asks = {"HX-Request": "true", "HX-PTag": mark}
    assert client.get("/week", headers=asks).status_code == 200


def test_as_of_a_past_moment_only_what_was_known_then_counts(client: TestClient) -> None:
    page = client.get("/week?as_of=2026-09-29T10:30").text

    assert "1</b> out of 4" in page
    assert "is-as-of" in page
    assert "data-live-panel" not in page
    assert "every" not in "".join(tag.get("hx-trigger") or "" for _, tag in read(page).elements)
    assert "As of Tue 29 Sep 10:30, then known" in page


def test_site_time_is_the_sites_whatever_the_browser_says(client: TestClient) -> None:
    assert "now 12:00" in text_of(client, "/week")
    assert "Nordvik Rotor Shop time (Europe/Oslo)" in text_of(client, "/week")


@pytest.mark.parametrize(("week", "says"), [("2026-W39", "short"), ("2026-W41", "cannot say")])
def test_weeks_past_and_to_come_have_their_own_answer(
    client: TestClient, week: str, says: str
) -> None:
    page = read(client.get(f"/week?week={week}").text)
    title = page.texts.index("Will we make this week's number?")

    assert says in " ".join(page.texts[title:]).lower()


def test_several_sites_ask_for_one_and_links_keep_it(
    client: TestClient, ledger: Ledger
) -> None:
    ledger.open_site("SYD")
    assert client.get("/week").status_code == 404

    page = read(client.get("/week?site=NORD").text)

    inside = [a["href"] for a in page.tags("a") if a["href"].startswith("/week")]
    assert inside
    assert all("site=NORD" in href for href in inside)

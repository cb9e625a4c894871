"""Publishing from the Week page and reading it back: form, block, refusals, API."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.instants import parse_instant
from ringwright.ledger.service import Ledger
from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.sites.service import SetGroundRule
from ringwright.sites.site import Person
from ringwright.web.factory import create_app
from tests.make import shop
from tests.make.figures import drawn_sheets
from tests.make.html import read
from tests.make.signing import signed_in

WEEK = "2026-W40"
AFTER = "2026-10-06T09:00:00+02:00"


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    """The small shop with a supervisor, after its week is over."""
    record = shop.open_shop(sqlite_url)
    for code, role in (("sup-1", "supervisor"), ("mgr-1", "manager")):
        person = Person(code=code, roles=(role,))
        record.execute("NORD", SetGroundRule(thing=person, key=f"person-{code}"), SYSTEM)
    record.clock.at_us = parse_instant(AFTER)  # type: ignore[attr-defined]
    yield record
    record.store.close()


@pytest.fixture
def client(sqlite_url: str, ledger: Ledger) -> TestClient:
    """A browser at which the supervisor acts."""
    app = create_app(Settings(database_url=sqlite_url), ledger)
    home = {"Origin": "http://testserver"}
    browser = TestClient(app, follow_redirects=False, headers=home)
    return signed_in(browser, ledger, "sup-1")


def form(client: TestClient, **typed: str) -> dict[str, str]:
    """The publishing form as the page drew it, with what somebody typed."""
    page = client.get(f"/week?week={WEEK}").text
    part = page[page.index('action="/week/publish"') :]
    fields = read(part[: part.index("</form>")]).tags("input")
    return {f["name"]: f.get("value", "") for f in fields if f["name"] != "site"} | typed


def text(client: TestClient) -> str:
    page = read(client.get(f"/week?week={WEEK}").text)
    return " ".join(" ".join(page.texts).split())


def late(ledger: Ledger) -> None:
    """One more release of that week, loaded a minute later."""
    ledger.clock.at_us += 60_000_000  # type: ignore[attr-defined]
    more = shop.HEADER + shop.events("V-005", "2026-10-01")
    ledger.execute("NORD", LoadHistory(rows=read_csv(more)), SYSTEM)


def test_a_press_publishes_what_the_page_shows(client: TestClient, ledger: Ledger) -> None:
    seq, whole = ledger.head("NORD")
    assert "Not published." in text(client)

    answer = client.post("/week/publish", data=form(client))

    assert answer.status_code == 303
    assert answer.headers["location"] == f"/week?week={WEEK}#published-VANE"
    page = text(client)
    assert "2 published, edition 1 Tue 6 Oct 2026 09:00:00 by sup-1" in page
    assert f"from entry {seq}, head {whole[:4]} {whole[4:8]} 2 now" in page
    assert "Every figure is as published." in page
    assert "Publish edition 2 of week 40, Guide vane" in page


def test_a_late_row_shows_what_was_published_and_what_is_now(
    client: TestClient, ledger: Ledger
) -> None:
    client.post("/week/publish", data=form(client))
    late(ledger)

    page = client.get(f"/week?week={WEEK}")
    sheets = drawn_sheets(page.text).found
    figures = {row[0]: row[1:] for row in sheets["VANE published"]}
    assert figures["output, parts"] == ["2", "3", "+1"]
    assert figures["final yield, %"] == ["66.7", "75.0", "+8.3"]
    assert [row[1:4] for row in sheets["VANE later entries"][1:]] == [
        ["booked late", word, "V-005"]
        for word in ("created", "begun", "ended", "begun", "ended")
    ]
    assert page.text.count("c-stamp--restated") >= 1
    links = [a["href"] for a in read(page.text).tags("a") if "#entry-" in a.get("href", "")]
    assert len(links) == 5
    assert client.get(links[0]).status_code == 200


def test_the_files_hold_what_is_published_too(client: TestClient, ledger: Ledger) -> None:
    client.post("/week/publish", data=form(client))
    late(ledger)

    body = client.get(f"/week/file.csv?week={WEEK}&sheet=VANE published").text
    assert '"output, parts",2,2,3,3,+1,1' in body


def test_again_without_a_reason_is_refused_on_the_page(
    client: TestClient, ledger: Ledger
) -> None:
    client.post("/week/publish", data=form(client))
    late(ledger)

    refused = client.post("/week/publish", data=form(client))
    again = client.post("/week/publish", data=form(client, reason="a row came late"))

    assert refused.status_code == 422
    assert "say why it is published again" in refused.text
    assert again.status_code == 303
    editions = drawn_sheets(client.get(f"/week?week={WEEK}").text).found["VANE editions"]
    assert [row[:2] for row in editions[1:]] == [["2", "3"], ["1", "2"]]
    assert editions[1][-1] == "a row came late"


def test_a_page_drawn_before_the_numbers_moved_publishes_nothing(
    client: TestClient, ledger: Ledger
) -> None:
    drawn = form(client)
    late(ledger)

    answer = client.post("/week/publish", data=drawn)

    assert answer.status_code == 409
    assert "have moved since they were shown" in answer.text
    assert "Not published." in text(client)


def test_a_form_sent_twice_publishes_once(client: TestClient) -> None:
    drawn = form(client)
    answers = [client.post("/week/publish", data=drawn).status_code for _ in range(2)]

    assert answers == [303, 303]
    assert "edition 1" in text(client)
    assert "edition 2 Tue" not in text(client)


def test_a_manager_sees_who_publishes_and_may_not(client: TestClient, ledger: Ledger) -> None:
    drawn = form(client)
    signed_in(client, ledger, "mgr-1")

    assert "A supervisor publishes the week." in text(client)
    assert client.post("/week/publish", data=drawn).status_code == 403


def test_a_week_still_running_says_so(client: TestClient, ledger: Ledger) -> None:
    ledger.clock.at_us = parse_instant("2026-10-02T12:00:00+02:00")  # type: ignore[attr-defined]

    assert "The week runs until Mon 5 Oct 00:00: this publishes it as it stands." in text(
        client
    )
    client.post("/week/publish", data=form(client))
    assert "The week still ran when it was published" in text(client)


def test_a_week_to_come_has_nothing_to_publish(client: TestClient) -> None:
    assert "/week/publish" not in client.get("/week?week=2026-W45").text


def test_the_api_lists_every_edition(client: TestClient, ledger: Ledger) -> None:
    client.post("/week/publish", data=form(client))
    late(ledger)
    client.post("/week/publish", data=form(client, reason="a row came late"))
    with ledger.read("NORD") as snapshot:
        token = make_token(ledger.store, snapshot.site.id, "manager", None, snapshot.now_us)
    asks = {"Authorization": f"Bearer {token}"}

    found = client.get("/api/weeks/published", headers=asks).json()
    week = client.get(f"/api/week?product=VANE&week={WEEK}", headers=asks).json()

    assert [(e["edition"], e["output"], e["by"]) for e in found] == [
        (1, 2, "sup-1"), (2, 3, "sup-1"),
    ]  # fmt: skip
    assert found[1]["numbers"] == week
    assert found[0]["at"] == "2026-10-06T09:00:00+02:00"
    assert client.get("/api/weeks/published?week=2026-W39", headers=asks).json() == []
    assert client.get("/api/weeks/published").status_code == 401

"""The furnace week as people see it: what it says, and that its files say the same."""

from __future__ import annotations

from dataclasses import replace

import pytest
from starlette.testclient import TestClient

from ringwright.furnaces.service import SetFurnace
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.figures import csv_table, drawn_sheets, shown_only
from tests.make.floor import QUALITY, open_floor
from tests.make.furnaces import HOT, Hall, open_hall
from tests.make.heat_weeks import at, begin, end
from tests.make.html import read
from tests.make.signing import signed_in

SHEETS = (
    "next loads", "misses", "free", "use", "cycles", "recipes", "yield furnaces",
    "yield positions", "yield recipes", "runs",
)  # fmt: skip


@pytest.fixture
def hall(sqlite_url: str) -> Hall:
    """One accepted run on Monday, one that waits for its review, one that goes on."""
    found = open_hall(sqlite_url)
    found.ready()
    wide = replace(HOT, channels=HOT.channels[:1])
    found.floor.do(SetFurnace(furnace=wide, key="f"), QUALITY)
    first = begin(found, "2026-09-28T10:00:00+02:00", ["S-1", "S-2"])
    end(found, first, 130)
    found.accept(first)
    second = begin(found, "2026-09-28T15:00:00+02:00", ["S-3"])
    end(found, second, 150)
    third = begin(found, "2026-09-29T08:00:00+02:00", ["S-4", "S-5", "S-6"])
    assert third.endswith("-0003")
    at(found, "2026-09-29T08:10:00+02:00")
    found.waiting("W-1", "W-2")
    return found


@pytest.fixture
def client(hall: Hall) -> TestClient:
    url = str(hall.floor.ledger.store.engine.url)
    app = create_app(Settings(database_url=url), hall.floor.ledger)
    browser = TestClient(app, follow_redirects=False)
    signed_in(browser, hall.floor.ledger, "sup-1")
    return browser


def told(client: TestClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text[:500]
    return " ".join(" ".join(read(answer.text).texts).split())


def test_the_page_leads_with_the_week_in_a_sentence(client: TestClient) -> None:
    """Six parts in three runs of three positions; 130, 150 and 16 minutes of 32.3 hours."""
    page = told(client, "/furnace/week")

    assert "3 runs begun, 67 % full, in a cycle 15 % of the hours" in page
    assert "free at 09:00, when HF-1-0003 is planned to end" in page
    assert "HF-1, 09:00, SLOW: 2 parts, 1 position empty" in page
    assert "Proved best" in page
    assert "W-1 left, window until 12:12" in page


def test_each_run_has_its_word_and_its_shape(client: TestClient) -> None:
    html = client.get("/furnace/week").text

    # There is no room for the word of the accepted one beside what needs a person.
    for piece in ("for review", "running"):
        assert f">{piece}</text>" in html
    assert ">accepted</text>" not in html
    assert "c-cycles__foot" in html
    assert "c-cycles__point" in html
    assert "c-cycles__rest" in html
    assert "HF-1-0002 for review, Mon 28 Sep 15:00 to Mon 28 Sep 17:30" in html


@pytest.mark.parametrize("code", SHEETS)
def test_the_file_says_what_the_screen_says(client: TestClient, code: str) -> None:
    drawn = drawn_sheets(client.get("/furnace/week").text).found[code]
    file = csv_table(client.get(f"/furnace/week/file.csv?sheet={code}").content)[1]

    rows = shown_only(file)
    assert len(rows) == len(drawn) or (len(rows) == 1 and drawn[1] == ["No rows."])
    for mine, its in zip(drawn[1:], rows[1:], strict=False):
        assert [" ".join(cell.split()) for cell in mine] == [" ".join(c.split()) for c in its]


def test_the_week_before_and_the_past_suggest_nothing(client: TestClient) -> None:
    before = told(client, "/furnace/week?week=2026-W39")
    assert "No run was begun" in before
    assert "The next loads stand with the present week" in before

    past = told(client, "/furnace/week?as_of=2026-09-28T12:00")
    assert "As of the past nothing is suggested" in past
    # Its trace came with its end at 12:10.
    assert "1 run begun" in past
    assert client.get("/furnace/week?week=now").status_code == 422


def test_a_panel_that_has_the_newest_gets_nothing_new(client: TestClient) -> None:
    panel = client.get("/furnace/week", headers={"HX-Request": "true"})
    tag = panel.headers["HX-PTag"]
    again = client.get("/furnace/week", headers={"HX-Request": "true", "HX-PTag": tag})

    assert panel.text.startswith('<div id="cycles-sheet"')
    assert again.status_code == 304


def test_windows_that_are_missed_lead_the_page(client: TestClient, hall: Hall) -> None:
    hall.floor.clock.at_us += 3 * 3600 * 1_000_000 + 30 * 60_000_000
    signed_in(client, hall.floor.ledger, "sup-1")
    # The run began at 08:00 and is past its plan: free now, so W-1 and W-2 still make it.
    assert "past its plan" in told(client, "/furnace/week")
    hall.floor.clock.at_us += 3600 * 1_000_000

    assert "its window is over; it goes back" in told(client, "/furnace/week")


def test_a_hall_without_a_furnace_has_an_empty_ruler(sqlite_url: str) -> None:
    floor = open_floor(sqlite_url)
    app = create_app(Settings(database_url=sqlite_url), floor.ledger)
    browser = TestClient(app, follow_redirects=False)
    signed_in(browser, floor.ledger, "sup-1")

    assert "No furnace is on the register yet" in told(browser, "/furnace/week")

"""The forecast on pages: what Week asks for apart, its own page, and how past forecasts did."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
from starlette.testclient import TestClient

from ringwright.core.calendar import iso_text, wall_us
from ringwright.flow.forecast import read_forecast
from ringwright.flow.forecast_board import draw_ruler
from ringwright.flow.forecasts import read_back_test
from ringwright.ledger.service import Ledger
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.flow.test_forecast import NOW_US, opened
from tests.make.line import MONDAY, SMALL, ZONE, Told, history_of, simulated
from tests.make.signing import open_to_readers

THURSDAY_US = wall_us(MONDAY + timedelta(weeks=8, days=3, hours=10), ZONE)
HX = {"HX-Request": "true"}


@pytest.fixture(scope="module")
def told() -> Told:
    """Nine weeks of a little line."""
    return simulated(SMALL, 9, 3)


@pytest.fixture
def ledger(sqlite_url: str, told: Told) -> Iterator[Ledger]:
    """A store at Thursday of the ninth week."""
    history = history_of(told, "RING", THURSDAY_US)
    found = opened(sqlite_url, history, now_us=THURSDAY_US)
    yield found
    found.store.close()


@pytest.fixture
def client(sqlite_url: str, ledger: Ledger) -> TestClient:
    app = create_app(Settings(database_url=sqlite_url), ledger)
    return TestClient(open_to_readers(app))


def test_week_asks_for_its_forecast_apart_and_leads_there_without_scripts(
    client: TestClient,
) -> None:
    week = client.get("/week").text

    assert 'id="week-forecast"' in week
    assert week.count('href="/week/forecast"') == 1
    assert "These decide it" not in week


def test_the_panel_says_what_the_command_says(client: TestClient, ledger: Ledger) -> None:
    with ledger.read("S") as read:
        found = read_forecast(read, "RING", "2025-W44")

    panel = client.get("/week/forecast", headers=HX).text
    page = client.get("/week/forecast").text

    said = f"{found.low_80} to {found.high_80} (80\u202f%)"
    assert panel.startswith('<section class="c-forecast" id="week-forecast"')
    assert said in panel
    assert said in page
    assert f"{found.released_so_far} out so far" in panel
    assert "<html" not in panel


def test_twenty_marks_are_drawn_and_those_at_the_target_are_solid(ledger: Ledger) -> None:
    with ledger.read("S") as read:
        found = read_forecast(read, "RING", "2025-W44")

    ruler = draw_ruler(found)

    assert len(ruler.marks) == 20
    assert sum(mark.solid for mark in ruler.marks) == sum(n >= 10 for n in found.twentieths)
    assert found.probability_of_target == pytest.approx(
        sum(mark.solid for mark in ruler.marks) / 20, abs=0.05
    )
    assert ruler.out_x is None or 0 < ruler.out_x < 100


def test_the_forecast_can_be_asked_as_of_a_past_moment(client: TestClient) -> None:
    monday = iso_text(wall_us(MONDAY + timedelta(weeks=8), ZONE), ZONE)[:16]

    page = client.get("/week/forecast", params={"as_of": monday}).text

    assert "then known" in page
    assert "0 out so far" in page


def test_the_back_test_page_and_its_file_hold_every_days_forecast(
    client: TestClient, ledger: Ledger
) -> None:
    with ledger.read("S") as read:
        found = read_back_test(read, "RING")

    page = client.get("/week/backtest").text
    file = client.get("/week/backtest/file.csv?sheet=tried").text

    # Eight weeks are over; the first six have less than five weeks of record before them.
    assert len(found.tried) == 2 * 7
    assert all(one.judged.low <= one.judged.high for one in found.tried)
    assert f"{found.score.covered} out of 14 times" in page
    assert file.count("2025-W43") == 7


def test_a_site_without_products_or_history_says_so(sqlite_url: str) -> None:
    ledger = opened(sqlite_url, None, now_us=NOW_US)
    app = create_app(Settings(database_url=sqlite_url), ledger)
    client = TestClient(open_to_readers(app))

    assert "Cannot say yet" in client.get("/week/forecast").text
    assert "the record is too short" in client.get("/week/backtest").text
    assert client.get("/week/backtest?product=NONE").status_code == 404
    ledger.store.close()

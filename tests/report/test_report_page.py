"""The page of the report, and its files as the page hands them out."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from ringwright.ledger.service import Ledger
from ringwright.report.model import FORMS
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make import shop
from tests.make.html import read
from tests.make.signing import open_to_readers

ASKED = "product=VANE&week=2026-W40"


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    record = shop.open_shop(sqlite_url)
    yield record
    record.store.close()


@pytest.fixture
def client(sqlite_url: str, ledger: Ledger) -> TestClient:
    return TestClient(open_to_readers(create_app(Settings(database_url=sqlite_url), ledger)))


def test_the_week_leads_to_its_report_and_the_report_to_its_files(client: TestClient) -> None:
    week = read(client.get(f"/week?{ASKED}").text)
    (there,) = [
        a["href"] for a in week.tags("a") if a.get("href", "").startswith("/week/report")
    ]

    page = client.get(there)
    assert page.status_code == 200
    links = [a["href"] for a in read(page.text).tags("a") if "/file." in a.get("href", "")]
    assert [link.partition("/file.")[2].partition("?")[0] for link in links] == list(FORMS)
    for link in links:
        first, again = client.get(link), client.get(link)
        assert first.status_code == 200
        assert first.content == again.content
        assert "week-report-VANE-2026-W40-entry-24" in first.headers["content-disposition"]


def test_the_page_says_what_is_on_it_and_what_it_was_drawn_from(
    client: TestClient, ledger: Ledger
) -> None:
    text = " ".join(" ".join(read(client.get(f"/week/report?{ASKED}").text).texts).split())

    assert "This week still runs" in text
    assert (
        "0 opening + 4 created + 0 reopened = 2 released + 1 scrapped + "
        "0 used in test or making + 1 closing. It balances."
    ) in text
    assert ledger.head("NORD")[1] in text
    assert "Visits under the numbers 6" in text
    assert "Guide vane, step by step 2" in text


def test_without_a_week_it_is_the_one_that_was_over_last(client: TestClient) -> None:
    assert "Week 2026-W39" in client.get("/week/report").text


def test_as_of_a_past_moment_page_and_files_know_what_was_known_then(
    client: TestClient,
) -> None:
    page = client.get(f"/week/report?{ASKED}&as_of=2026-09-29T10:30").text
    assert "1 released + 0 scrapped" in page
    links = [a["href"] for a in read(page).tags("a") if "/file." in a.get("href", "")]
    assert all("as_of=2026-09-29T10" in link for link in links)


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/week/report/file.docx", 404),
        ("/week/report?product=NONE", 404),
        ("/week/report?week=2026-W60", 422),
    ],
)
def test_what_is_not_there_is_said(client: TestClient, path: str, status: int) -> None:
    assert client.get(path).status_code == status

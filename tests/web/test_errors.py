"""Refusals in the form the asker reads, and nothing of the program's insides."""

from __future__ import annotations

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from ringwright.core.errors import Clash, Forbidden, Missing, Refused, RingwrightError
from tests.make.html import read

REFUSALS = [Refused("weld is not open"), Clash("taken"), Missing("no part"), Forbidden("no")]


@pytest.fixture
def broken(app: FastAPI) -> FastAPI:
    """The application with two addresses that refuse or break as told."""
    told: dict[str, Exception] = {str(type(r).__name__): r for r in REFUSALS}
    told["Fault"] = RuntimeError("SELECT secret FROM /srv/store.sqlite")

    def fail(kind: str) -> None:
        raise told[kind]

    app.get("/api/fail/{kind}")(fail)
    app.get("/fail/{kind}")(fail)
    return app


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda r: type(r).__name__)
def test_a_refusal_is_json_under_api_and_a_page_elsewhere(
    broken: FastAPI, refusal: RingwrightError
) -> None:
    client = TestClient(broken)
    name = type(refusal).__name__

    said = client.get(f"/api/fail/{name}")
    page = client.get(f"/fail/{name}")
    piece = client.get(f"/fail/{name}", headers={"HX-Request": "true"})

    assert said.json() == {"error": refusal.code, "detail": refusal.message}
    assert {said.status_code, page.status_code, piece.status_code} == {refusal.status}
    assert refusal.message in page.text
    assert "Nothing was booked." in page.text
    assert len(read(page.text).tags("h1")) == 1
    assert piece.text.strip() in page.text


@pytest.mark.parametrize("path", ["/api/fail/Fault", "/fail/Fault"])
def test_a_fault_shows_no_insides_and_promises_nothing(broken: FastAPI, path: str) -> None:
    answer = TestClient(broken, raise_server_exceptions=False).get(path)

    assert answer.status_code == 500
    assert "secret" not in answer.text
    assert "Nothing was booked." not in answer.text


@pytest.mark.parametrize("path", ["/week?product=%00", "/yield?lot=a%00b", "/find?q=%00"])
def test_a_nul_in_an_address_is_refused_on_every_page(app: FastAPI, path: str) -> None:
    answer = TestClient(app).get(path)

    assert answer.status_code == 422
    assert "NUL" in answer.text
    assert "\0" not in answer.text


def test_a_refusal_under_api_stays_short(app: FastAPI) -> None:
    def fail() -> None:
        raise Refused("ö" * 30_000)

    app.get("/api/long")(fail)

    assert len(TestClient(app).get("/api/long").content) < 20_000


@pytest.mark.parametrize("query", ["week=2026-W99", "week=x", "as_of=soon", "product=NONE"])
def test_a_question_about_nothing_is_refused_in_words(client: TestClient, query: str) -> None:
    answer = client.get(f"/week?{query}")

    assert answer.status_code in (404, 422)
    assert len(read(answer.text).tags("h1")) == 1


def test_the_future_cannot_be_asked_as_of(client: TestClient) -> None:
    answer = client.get("/week?as_of=2027-01-01T00:00")

    assert answer.status_code == 422
    assert "nothing is known yet" in answer.text


def test_text_from_outside_is_shown_as_text(client: TestClient) -> None:
    answer = client.get("/week", params={"product": "<script>alert(1)</script>"})

    assert "<script>alert" not in answer.text

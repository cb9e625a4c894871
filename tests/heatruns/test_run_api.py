"""Furnace runs over HTTP, as a recorder and another program use them."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from starlette.testclient import TestClient

from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.floor import MINUTE_US
from tests.make.furnaces import Hall


@pytest.fixture
def client(hall: Hall) -> TestClient:
    ledger = hall.floor.ledger
    app = create_app(Settings(database_url=str(ledger.store.engine.url)), ledger)
    return TestClient(app)


def bearer(hall: Hall, role: str = "maker", code: str | None = "maker-1") -> dict[str, str]:
    now_us = hall.floor.clock.at_us
    token = make_token(hall.floor.ledger.store, 1, role, code, now_us)
    return {"Authorization": f"Bearer {token}"}


@pytest.fixture
def run(hall: Hall) -> str:
    """A run whose cycle began a moment ago."""
    hall.waiting("S-1")
    code = hall.open()
    hall.load(code, "S-1")
    hall.start(code)
    return code


def rows(hall: Hall, count: int = 3) -> list[list[Any]]:
    """So many samples from the start, ten seconds apart."""
    return [
        [
            datetime.fromtimestamp(hall.started_s + 10 * n, UTC).isoformat(),
            20.0 + n, 21.5 + n, None,
        ]
        for n in range(count)
    ]  # fmt: skip


def sent(hall: Hall, key: str = "rec-1", **changed: Any) -> dict[str, Any]:
    channels = ["tc1_c", "tc2_c", "pressure_kpa"]
    return {"key": key, "channels": channels, "rows": rows(hall), **changed}


def test_a_recorder_hands_in_batches_while_the_run_goes_on(
    client: TestClient, hall: Hall, run: str
) -> None:
    path = f"/api/furnace/runs/{run}/readings"

    answer = client.post(path, json=sent(hall), headers=bearer(hall))

    assert answer.status_code == 200, answer.text
    assert answer.json() == {
        "run": run, "furnace": "HF-1", "recipe": "SLOW", "revision": "1", "state": "running",
        "load": [{"serial": "S-1", "position": "left"}], "samples": 3,
        "entry": hall.run(run).last_seq,
    }  # fmt: skip
    told = client.get(f"/api/furnace/runs/{run}", headers=bearer(hall, "planner", None)).json()
    assert told["readings"][0]["samples"] == 3
    assert told["started"].endswith("+02:00")
    assert (told["ended"], told["judgement"], told["accepted_by"]) == (None, None, None)


def test_the_same_key_answers_as_it_did_first(client: TestClient, hall: Hall, run: str) -> None:
    path = f"/api/furnace/runs/{run}/readings"
    first = client.post(path, json=sent(hall), headers=bearer(hall))

    again = client.post(path, json=sent(hall), headers=bearer(hall))
    other = client.post(path, json=sent(hall, rows=rows(hall, 5)), headers=bearer(hall))

    assert again.json() == first.json()
    assert (other.status_code, other.json()["error"]) == (409, "key-reused")
    assert len(hall.run(run).batches) == 1


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"channels": ["tc1_c", "tc9_c", "pressure_kpa"]}, "no channel 'tc9_c'"),
        ({"channels": ["tc1_c", "tc1_c", "pressure_kpa"]}, "a channel twice"),
        ({"rows": [["2026-09-28T12:00:00", 1.0, 2.0, 3.0]]}, "has no offset"),
        ({"rows": [["soon", 1.0, 2.0, 3.0]]}, "not an ISO 8601"),
        ({"rows": [["2026-09-28T12:00:00Z", 1.0, 2.0]]}, "2 readings for 3 channels"),
        ({"rows": [["2026-09-28T12:00:00Z", 1.0, "2", 3.0]]}, "a figure or null"),
        ({"rows": [[1.0, 2.0, 3.0, 4.0]]}, "the time comes first"),
        ({"rows": [["2026-01-01T12:00:00Z", 1.0, 2.0, 3.0]]}, "wholly outside"),
        ({"rows": []}, "rows"),
        ({"rows": [["2026-09-28T12:00:00Z", 1.0, 2.0, 3.0]] * 5001}, "rows"),
        ({"key": ""}, "key"),
        ({"more": 1}, "more"),
    ],
)  # fmt: skip
def test_what_cannot_be_kept_is_refused_and_nothing_is_stored(
    client: TestClient, hall: Hall, run: str, changed: dict[str, Any], why: str
) -> None:
    path = f"/api/furnace/runs/{run}/readings"

    answer = client.post(path, json=sent(hall, **changed), headers=bearer(hall))

    assert answer.status_code == 422
    assert why in answer.json()["detail"]
    assert hall.run(run).batches == []


def test_a_figure_without_end_is_no_reading(client: TestClient, hall: Hall, run: str) -> None:
    at = rows(hall, 1)[0][0]
    text = f'{{"key": "k", "channels": ["tc1_c"], "rows": [["{at}", 1e999]]}}'

    answer = client.post(
        f"/api/furnace/runs/{run}/readings",
        content=text,
        headers={**bearer(hall), "Content-Type": "application/json"},
    )

    assert answer.status_code == 422


def test_only_who_runs_furnaces_hands_in(client: TestClient, hall: Hall, run: str) -> None:
    path = f"/api/furnace/runs/{run}/readings"

    assert client.post(path, json=sent(hall)).status_code == 401
    planner = client.post(path, json=sent(hall), headers=bearer(hall, "planner", None))
    assert planner.status_code == 403


@pytest.mark.parametrize("code", ["HF-9-0001", "a/b", "%00x", "\u202e"])
def test_a_run_that_is_not_there_is_missing(client: TestClient, hall: Hall, code: str) -> None:
    answer = client.get(f"/api/furnace/runs/{code}", headers=bearer(hall))
    kept = client.post(
        f"/api/furnace/runs/{code}/readings", json=sent(hall), headers=bearer(hall)
    )

    assert answer.status_code in (404, 422)
    assert kept.status_code in (404, 422)


def test_a_run_that_was_judged_says_so(client: TestClient, hall: Hall) -> None:
    code = hall.whole_run("S-1", held_at_c=880.0)
    hall.floor.clock.at_us += MINUTE_US

    told = client.get(f"/api/furnace/runs/{code}", headers=bearer(hall)).json()

    assert told["state"] == "held"
    assert told["judgement"]["verdict"] == "not met"
    assert [one["name"] for one in told["judgement"]["segments"]] == ["heat", "form"]
    assert told["ended"] is not None

"""Sets over HTTP: 201 and the set, or 409 and nothing; a key repeated answers as first."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient

from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.sets import PRODUCT, finished, open_hall

SLOTS = [f"RB-{n}" for n in range(1, 9)]


@pytest.fixture
def api(store_url: str) -> Iterator[Any]:
    """Calls a path as a role."""
    hall = open_hall(store_url, finished(12))
    app = create_app(Settings(database_url=store_url), hall.ledger)
    client = TestClient(app, base_url="http://127.0.0.1:8321")

    def call(method: str, path: str, role: str = "planner", **body: Any) -> Any:
        token = make_token(hall.ledger.store, 1, role, None, hall.clock.now_us())
        headers = {"Authorization": f"Bearer {token}"}
        if method == "POST":
            return client.post(f"/api{path}", headers=headers, json=body)
        return client.get(f"/api{path}", headers=headers, params=body)

    call.ledger = hall.ledger  # type: ignore[attr-defined]
    yield call
    hall.ledger.store.close()


def reserve(api: Any, key: str = "k", slots: list[str] = SLOTS, **more: Any) -> Any:
    return api("POST", "/sets", key=key, product=PRODUCT, slots=slots, **more)


def test_a_set_is_reserved_and_its_blades_say_so(api: Any) -> None:
    answer = reserve(api)

    assert answer.status_code == 201
    assert answer.json() == {"set": "RH8-S001", "product": PRODUCT, "slots": SLOTS}
    blade = api("GET", "/parts/RB-1").json()
    assert blade["reservation"] == "RH8-S001"
    assert blade["events"][-1]["act"] == "reserve"


@pytest.mark.parametrize(
    "body", [{"product": "RH8\0"}, {"slots": ["RB-1\0", "RB-2"]}], ids=["product", "slots"]
)
def test_a_code_with_a_nul_is_refused_and_the_refusal_kept(
    api: Any, body: dict[str, Any]
) -> None:
    asked = {"key": "k", "product": PRODUCT, "slots": SLOTS, **body}

    answer = api("POST", "/sets", **asked)

    assert answer.status_code == 422
    assert "control character" in answer.json()["detail"]
    with api.ledger.store.read() as connection:
        kept = connection.exec_driver_sql("SELECT operation, subject FROM refusal").all()
    assert [tuple(row) for row in kept] == [
        ("reserve", asked["product"].replace("\0", "\N{REPLACEMENT CHARACTER}"))
    ]


def test_a_blade_that_is_not_free_is_409_and_none_is_reserved(api: Any) -> None:
    reserve(api)

    answer = reserve(api, "other", ["RB-9", "RB-10", "RB-1"])

    assert answer.status_code == 409
    assert set(answer.json()) == {"error", "detail"}
    assert "RB-1 is reserved for RH8-S001" in answer.json()["detail"]
    assert api("GET", "/parts/RB-9").json()["reservation"] is None


def test_a_key_repeated_answers_as_it_did_though_the_set_was_given_back(api: Any) -> None:
    first = reserve(api)
    given = api("POST", "/sets/RH8-S001/give-back", key="g", reason="the order is off")
    again = api("POST", "/sets/RH8-S001/give-back", key="g", reason="the order is off")

    assert (given.status_code, again.status_code) == (200, 200)
    assert given.json() == again.json() == first.json()
    assert (reserve(api).status_code, reserve(api).json()) == (201, first.json())
    assert api("GET", "/parts/RB-1").json()["reservation"] is None
    assert [e["act"] for e in api("GET", "/parts/RB-1").json()["events"]][-2:] == [
        "reserve", "give-back",
    ]  # fmt: skip


def test_a_key_with_another_body_is_refused(api: Any) -> None:
    reserve(api)

    assert reserve(api, "k", SLOTS[::-1]).status_code == 409


@pytest.mark.parametrize("role", ["maker", "inspector", "supervisor", "manager"])
def test_only_a_planner_reserves_and_gives_back(api: Any, role: str) -> None:
    assert reserve(api, role=role).status_code == 403
    reserve(api)
    answer = api("POST", "/sets/RH8-S001/give-back", role, key="g", reason="no")
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "body",
    [
        {"slots": []},
        {"slots": ["RB-1", "RB-1"]},
        {"slots": "RB-1"},
        {"slots": [1, 2]},
        {"slots": SLOTS, "product": "NO-SUCH"},
        {"slots": SLOTS, "seen": {}},
        {"slots": ["RB-1", "RB-\x07"]},
    ],
)
def test_a_bad_order_is_refused_in_words(api: Any, body: dict[str, Any]) -> None:
    answer = api("POST", "/sets", **{"key": "k", "product": PRODUCT, **body})

    assert 400 <= answer.status_code < 500
    assert answer.json()["error"]
    assert answer.json()["detail"]


def test_an_unknown_set_or_blade_is_404(api: Any) -> None:
    assert reserve(api, "k", ["RB-1", "RB-99"]).status_code == 404
    assert api("POST", "/sets/RH8-S009/give-back", key="g", reason="no").status_code == 404
    assert api("GET", "/sets/RH8-S009").status_code == 404


def test_sets_are_listed_and_shown_with_what_is_fitted(api: Any) -> None:
    reserve(api)

    listed = api("GET", "/sets", product=PRODUCT).json()["sets"]
    one = api("GET", "/sets/RH8-S001").json()

    assert listed == [one]
    assert (one["state"], one["fitted"]) == ("reserved", [None] * 8)

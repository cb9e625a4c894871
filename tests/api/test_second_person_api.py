"""A second person over HTTP: their own token in a header of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.ledger.service import Ledger
from ringwright.people.rules import PERMISSIONS
from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from ringwright.web.factory import create_app
from tests.make.shop import open_shop

PEOPLE = """
[site]
code = "NORD"
name = "Nordvik Rotor Shop"
zone = "Europe/Oslo"
""" + "".join(
    f'[[person]]\ncode = "{code}"\nroles = ["{role}"]\n'
    for code, role in (("da-1", "design-authority"), ("qe-1", "quality-engineer"))
)
OTHER_SITE = """
[site]
code = "SOR"
name = "Sorvik Rotor Shop"
zone = "Europe/Oslo"
[[person]]
code = "qe-1"
roles = ["quality-engineer"]
"""
REPAIR = {"key": "r", "act": "end", "serial": "P-1", "step": 10, "outcome": "repair"}


class Shop:
    """The API, and tokens of whom a test wants."""

    def __init__(self, client: TestClient, ledger: Ledger) -> None:
        self.client, self.ledger = client, ledger

    def token(self, role: str, actor: str | None = None, site: int = 1) -> str:
        return make_token(self.ledger.store, site, role, actor, self.ledger.clock.now_us())

    def post(self, path: str, body: dict[str, Any], token: str, second: str | None) -> Any:
        headers = {"Authorization": f"Bearer {token}"}
        headers |= {"Ringwright-Second": second} if second is not None else {}
        return self.client.post(path, json=body, headers=headers)

    def book(self, body: dict[str, Any], token: str, second: str | None = None) -> Any:
        return self.post("/api/bookings", body, token, second)

    def events(self, token: str) -> list[dict[str, Any]]:
        headers = {"Authorization": f"Bearer {token}"}
        found = self.client.get("/api/parts/P-1", headers=headers).json()["events"]
        assert isinstance(found, list)
        return found


@pytest.fixture
def shop(store_url: str) -> Iterator[Shop]:
    """P-1 in work at step 10; another site has people of the same codes."""
    ledger = open_shop(store_url, history="")
    ledger.execute("NORD", ExtendSite(file=parse_site(PEOPLE, "site")), SYSTEM)
    ledger.open_site("SOR")
    ledger.execute("SOR", ExtendSite(file=parse_site(OTHER_SITE, "site")), SYSTEM)
    app = create_app(Settings(database_url=store_url), ledger)
    made = Shop(TestClient(app, base_url="http://127.0.0.1:8321"), ledger)
    desk = made.token("supervisor")
    made.book({"key": "c", "act": "create", "serial": "P-1", "product": "VANE"}, desk)
    made.book({"key": "b", "act": "begin", "serial": "P-1", "step": 10}, desk)
    yield made
    ledger.store.close()


def test_a_person_alone_is_told_what_to_send_and_nothing_is_booked(shop: Shop) -> None:
    delegate = shop.token("design-authority", "da-1")

    answer = shop.book(REPAIR, delegate)

    assert answer.status_code == 409
    assert answer.json()["error"] == "second-person"
    for told in ("Ringwright-Second: Bearer", *PERMISSIONS["second: repair"], "P-1"):
        assert told in answer.json()["detail"]
    assert [event["act"] for event in shop.events(delegate)] == ["create", "begin"]


def test_the_same_request_with_the_second_person_books_and_shows_them(shop: Shop) -> None:
    delegate = shop.token("design-authority", "da-1")
    shop.book(REPAIR, delegate)

    answer = shop.book(REPAIR, delegate, f"Bearer {shop.token('quality-engineer', 'qe-1')}")
    again = shop.book(REPAIR, delegate)

    assert answer.status_code == 200, answer.text
    assert set(answer.json()["event"]) == {"site_seq", "key", "act", "serial", "step", "at"}
    assert again.content == answer.content
    create, begin, end = shop.events(delegate)
    assert end["approver"] == "qe-1"
    assert end["act"] == "end"
    # A stable field is never missing, and the new one stands only where somebody signed.
    assert set(end) - {"approver"} == set(begin) == set(create)
    assert create["step"] is None


Make = Callable[[Shop], str]
WRONG: dict[str, Make] = {
    "nothing": lambda _: "",
    "no scheme": lambda shop: shop.token("quality-engineer", "qe-1"),
    "another scheme": lambda shop: f"Basic {shop.token('quality-engineer', 'qe-1')}",
    "no token": lambda _: "Bearer ",
    "an unknown token": lambda _: "Bearer 12345",
    "a role's token": lambda shop: f"Bearer {shop.token('quality-engineer')}",
    "another site's person": lambda s: f"Bearer {s.token('quality-engineer', 'qe-1', 2)}",
}


@pytest.mark.parametrize("make", WRONG.values(), ids=list(WRONG))
def test_a_second_who_is_nobody_of_this_site_is_refused(shop: Shop, make: Make) -> None:
    delegate = shop.token("design-authority", "da-1")

    for token in (delegate, shop.token("design-authority")):
        answer = shop.book(REPAIR, token, make(shop))
        assert answer.status_code == 401
        assert set(answer.json()) == {"error", "detail"}
        assert "a person of this site" in answer.json()["detail"]
    assert len(shop.events(delegate)) == 2


@pytest.mark.parametrize(
    ("role", "actor"), [("design-authority", "da-1"), ("inspector", "insp-1")]
)
def test_the_same_person_or_another_role_is_forbidden(
    shop: Shop, role: str, actor: str
) -> None:
    delegate = shop.token("design-authority", "da-1")

    answer = shop.book(REPAIR, delegate, f"Bearer {shop.token(role, actor)}")

    assert answer.status_code == 403
    assert len(shop.events(delegate)) == 2


def test_a_role_s_token_books_alone_and_names_a_second_where_it_gives_one(shop: Shop) -> None:
    system = shop.token("design-authority")
    qe = f"Bearer {shop.token('quality-engineer', 'qe-1')}"

    assert shop.book(REPAIR, system).status_code == 200
    shop.book({"key": "b2", "act": "begin", "serial": "P-1", "step": 10}, shop.token("maker"))
    signed = shop.book({**REPAIR, "key": "r2", "outcome": "concession"}, system, qe)

    assert signed.status_code == 200
    assert [event.get("approver") for event in shop.events(system)][2:] == [None, None, "qe-1"]


def test_where_no_second_is_needed_a_right_one_is_no_approver(shop: Shop) -> None:
    desk = shop.token("supervisor")
    qe = f"Bearer {shop.token('quality-engineer', 'qe-1')}"

    shop.book(
        {"key": "e", "act": "end", "serial": "P-1", "step": 10, "outcome": "pass"}, desk, qe
    )

    assert "approver" not in shop.events(desk)[-1]


def test_sets_take_the_header_too(shop: Shop) -> None:
    planner = shop.token("planner")
    body = {"key": "s", "product": "VANE", "slots": ["P-1", "P-2"]}

    assert shop.post("/api/sets", body, planner, "Bearer 1").status_code == 401
    assert shop.post("/api/sets", body, planner, None).status_code == 404
    back = {"key": "g", "reason": "changed"}
    assert shop.post("/api/sets/X/give-back", back, planner, "Bearer 1").status_code == 401


def test_the_header_stands_in_the_document_of_what_is_posted(shop: Shop) -> None:
    token = shop.token("supervisor")
    headers = {"Authorization": f"Bearer {token}"}
    paths = shop.client.get("/api/openapi.json", headers=headers).json()["paths"]

    for path, verbs in paths.items():
        for verb, operation in verbs.items():
            named = {one["name"] for one in operation.get("parameters", [])}
            assert ("Ringwright-Second" in named) == (verb == "post"), path
            if verb == "post":
                assert "second-person" in operation["responses"]["409"]["description"]

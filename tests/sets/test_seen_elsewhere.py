"""A set is seen from elsewhere: found by its code, named beside its blades."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from ringwright.find.service import find
from ringwright.floor.standing import read_floor
from ringwright.sets.building import Fit, HandOver
from ringwright.sets.service import Reserve
from ringwright.settings import Settings
from ringwright.trace.question import Question
from ringwright.trace.service import Contain
from ringwright.trace.standing import read_standings
from ringwright.web.factory import create_app
from tests.make.sets import CODE, PRODUCT, RingHall, finished, open_hall
from tests.make.signing import open_to_readers

SLOTS = tuple(f"RB-{n}" for n in range(1, 9))


@pytest.fixture
def hall(sqlite_url: str) -> Iterator[RingHall]:
    """A set handed over, with one blade fitted."""
    shop = open_hall(sqlite_url, finished(10))
    shop.act("planner", Reserve(key="r", product=PRODUCT, slots=SLOTS))
    shop.act("planner", HandOver(key="h", set="RH8-S001", to="build"))
    shop.act("maker", Fit(key="f", set="RH8-S001", slot=3, serial="RB-3"))
    yield shop
    shop.ledger.store.close()


@pytest.fixture
def client(hall: RingHall, sqlite_url: str) -> TestClient:
    app = open_to_readers(create_app(Settings(database_url=sqlite_url), hall.ledger))
    return TestClient(app, follow_redirects=False)


@pytest.mark.parametrize("text", ["RH8-S001", "rh8-s", "RH8"])
def test_a_set_is_found_by_its_code_or_how_it_begins(hall: RingHall, text: str) -> None:
    with hall.ledger.read(CODE) as read:
        groups = {group.kind: group for group in find(read, text).groups}

    (hit,) = groups["set"].hits
    assert (hit.name, hit.places[0].route) == ("RH8-S001", "sets.set")


def test_a_found_set_leads_to_its_page(client: TestClient) -> None:
    assert '/sets/RH8-S001"' in client.get("/find", params={"q": "RH8-S"}).text


def test_a_blade_s_standing_names_its_set_and_slot(hall: RingHall) -> None:
    with hall.ledger.read(CODE) as read:
        found = read_standings(read, ["RB-1", "RB-3", "RB-9"])

    kept = {serial: (one.reserved, one.slot) for serial, one in found.items()}
    assert kept == {
        "RB-1": ("RH8-S001", None), "RB-3": ("RH8-S001", "3"), "RB-9": (None, None),
    }  # fmt: skip


def test_a_blade_s_page_and_the_list_of_what_was_touched_say_it(client: TestClient) -> None:
    assert "reserved for RH8-S001" in client.get("/trace", params={"part": "RB-1"}).text
    assert "slot 3 of RH8-S001" in client.get("/trace", params={"part": "RB-3"}).text


def test_a_containment_names_the_sets_that_it_breaks(
    hall: RingHall, client: TestClient
) -> None:
    question = Question(kind="part", value="RB-3")
    command = Contain(
        key="c", reason="crack found", question=question, plans=(("RB-3", "hold"),)
    )
    code = hall.act("quality-engineer", command)["containment"]

    page = client.get(f"/trace/containments/{code}").text

    assert '<a href="/sets/RH8-S001">RH8-S001</a>' in page.replace("http://testserver", "")
    assert hall.part("RB-3").hold is not None


def test_the_floor_shows_whose_release_was_taken_back_as_reserved_still(
    hall: RingHall,
) -> None:
    hall.book("inspector", serial="RB-5", act="hold", reason="look again")

    with hall.ledger.read(CODE) as read:
        floor = read_floor(read, PRODUCT)

    assert floor.parts == ()  # released blades stand in stock, not on the route
    assert hall.part("RB-5").reservation == "RH8-S001"

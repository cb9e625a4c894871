"""A file of blades through the pages: brought, built from, searched at length, stopped."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.html import read
from tests.make.sets import PRODUCT, RingHall, finished, open_hall
from tests.make.signing import AS, open_to_readers
from tests.sets.test_builder_pages import HERE, PLANNER, answer_of, text_of

POOL = "serial,moment,frequency\n" + "".join(
    f"Q-{n},{blade.moment},{blade.tone}\n" for n, blade in enumerate(finished(40, seed=7))
)


@pytest.fixture
def hall(sqlite_url: str) -> Iterator[RingHall]:
    shop = open_hall(sqlite_url, finished(20))
    yield shop
    shop.ledger.store.close()


@pytest.fixture
def client(sqlite_url: str, hall: RingHall) -> TestClient:
    app = open_to_readers(create_app(Settings(database_url=sqlite_url), hall.ledger))
    return TestClient(app, follow_redirects=False, headers=PLANNER)


def bring(client: TestClient, text: str = POOL, **fields: str) -> tuple[int, str]:
    """(status, where the browser is led, or the page)."""
    given = {"product": PRODUCT, "moment": "g_mm", **fields}
    files = {"file": ("stock.csv", text.encode(), "text/csv")}
    answer = client.post("/sets/pool", data=given, files=files)
    return answer.status_code, answer.headers.get("location", answer.text)


def run_on(client: TestClient, address: str, **fields: str) -> str:
    """Start a run on the page's blades, wait for its end, answer its page's address."""
    begun = client.post("/sets/runs?" + address.partition("?")[2], data=fields)
    assert begun.status_code == 303, begun.text
    where = begun.headers["location"]
    for _ in range(200):
        if "Stop and keep the best so far" not in client.get(where).text:
            return where
        time.sleep(0.1)
    raise AssertionError("the run did not end")


def test_a_file_is_brought_and_a_set_is_built_from_it(client: TestClient) -> None:
    status, where = bring(client)

    assert status == 303
    page = client.get(where).text
    assert answer_of(page).startswith("Answer A pairs every blade")
    assert "stock.csv" in text_of(page)
    assert "only blades of the record are reserved" in text_of(page)


def test_the_same_file_twice_is_the_same_pool(client: TestClient) -> None:
    assert bring(client) == bring(client)


def test_a_ring_of_another_size_is_built_from_a_file(client: TestClient) -> None:
    _, where = bring(client, product="", slots="13")

    assert answer_of(client.get(where).text).startswith("Answer A keeps neighbours")


def test_without_product_and_slots_the_page_asks_for_the_slots(client: TestClient) -> None:
    _, where = bring(client, product="")

    assert answer_of(client.get(where).text) == "Say how many slots the ring has."


def test_a_slip_of_units_is_kept_only_when_somebody_says_it_is_right(
    client: TestClient,
) -> None:
    status, page = bring(client, moment="g_cm")
    assert status == 422
    assert "times that of the product" in text_of(page)
    assert "were they g·mm?" in text_of(page)

    assert bring(client, moment="g_cm", sure="1")[0] == 303


def test_every_bad_line_of_a_file_is_named(client: TestClient) -> None:
    status, page = bring(client, "serial,moment\nA,heavy\nB,1200\n,5\n")

    assert status == 422
    assert "line 2:" in text_of(page)
    assert "line 4:" in text_of(page)


def test_as_many_sets_as_possible_with_their_bound_and_proof(client: TestClient) -> None:
    _, where = bring(client)
    address = f"{where}&frequency_spread=1.2"

    page = client.get(run_on(client, address, prove="1")).text

    assert "the most there can be (proved); this is set 1" in answer_of(page)
    assert "(proved)" in text_of(page)
    assert "Set 2" in text_of(page)


def test_another_set_of_a_run_is_drawn_when_it_is_chosen(client: TestClient) -> None:
    where = run_on(client, bring(client)[1], sets="2")
    first, second = (client.get(f"{where}&set={n}").text for n in (1, 2))

    def blades(page: str) -> set[str]:
        return {text for text in read(page).texts if text.startswith("Q-")}

    assert answer_of(second).endswith("this is set 2.")
    assert not blades(first) & blades(second)
    assert client.get(f"{where}&set=3").status_code == 422


def test_the_panel_of_a_run_that_ended_leads_to_its_page(client: TestClient) -> None:
    where = run_on(client, bring(client)[1], sets="1")
    code = where.rpartition("run=")[2]

    answer = client.get(f"/sets/runs/{code}", headers={"HX-Request": "true"})

    assert f"run={code}" in answer.headers["HX-Redirect"]
    assert client.get(f"/sets/runs/{code}").status_code == 303
    assert client.get("/sets/runs/nothing").status_code == 404


def test_a_run_of_the_stock_can_be_reserved(client: TestClient, hall: RingHall) -> None:
    where = run_on(client, "/sets", sets="1")
    drawn = read(client.get(where).text)
    form = next(f for f in drawn.tags("form") if f.get("id") == "sets-reserve")
    sent = {
        name: [a["value"] for a in drawn.tags("input") if a.get("name") == name]
        for name in ("serial", "seen")
    }

    answer = client.post(form["action"], data={**sent, "key": "k", "product": PRODUCT})

    assert answer.status_code == 303
    assert hall.set("RH8-S001").slots == sent["serial"]


def test_a_run_that_was_stopped_says_so(client: TestClient) -> None:
    big = "serial,moment\n" + "".join(
        f"Q-{n},{blade.moment}\n" for n, blade in enumerate(finished(300, seed=7))
    )
    _, where = bring(client, big, slots="150")
    assert answer_of(client.get(where).text).endswith("is a longer search: start a run.")
    begun = client.post(
        "/sets/runs?" + where.partition("?")[2], data={"sets": "1", "effort": "5"}
    )
    going = begun.headers["location"]
    assert answer_of(client.get(going).text).startswith("The run goes on")
    code = going.rpartition("run=")[2]

    assert client.post(f"/sets/runs/{code}/stop").status_code == 303

    for _ in range(200):
        page = client.get(going).text
        if "Stop and keep the best so far" not in page:
            break
        time.sleep(0.1)
    assert "stopped" in text_of(page)


def test_who_may_not_build_cannot_start_or_bring(client: TestClient) -> None:
    maker = {AS: "maker-1", **HERE}

    begun = client.post("/sets/runs", data={"sets": "1"}, headers=maker)
    files = {"file": ("stock.csv", POOL.encode(), "text/csv")}
    brought = client.post("/sets/pool", data={"moment": "g_mm"}, files=files, headers=maker)

    assert (begun.status_code, brought.status_code) == (403, 403)


def test_an_unknown_pool_is_missing(client: TestClient) -> None:
    for code in ("nothing", "..%2Fx", "%00"):
        assert client.get(f"/sets?pool={code}").status_code in (404, 422)

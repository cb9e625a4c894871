"""The Blade sets page: stock, an answer at once, what-if, rules, the act that reserves."""

from __future__ import annotations

import re
from collections.abc import Iterator
from urllib.parse import quote

import pytest
from starlette.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sets.building import SetRotor
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.figures import csv_table
from tests.make.floor import Floor
from tests.make.html import Read, read
from tests.make.sets import CODE, PRODUCT, RingHall, finished, open_hall
from tests.make.signing import AS, open_to_readers

HERE = {"sec-fetch-site": "same-origin"}
PLANNER = {AS: "planner-1", **HERE}


def hall_of(url: str, count: int) -> Iterator[RingHall]:
    shop = open_hall(url, finished(count))
    yield shop
    shop.ledger.store.close()


@pytest.fixture
def hall(sqlite_url: str) -> Iterator[RingHall]:
    """Twenty released blades, eight to a set."""
    yield from hall_of(sqlite_url, 20)


@pytest.fixture
def client(sqlite_url: str, hall: RingHall) -> TestClient:
    return browser(sqlite_url, hall)


def browser(url: str, hall: RingHall) -> TestClient:
    app = open_to_readers(create_app(Settings(database_url=url), hall.ledger))
    return TestClient(app, follow_redirects=False)


def answer_of(page: str) -> str:
    found = re.search(r"<h1[^>]*>(.*?)</h1>", page, re.S)
    assert found is not None
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", found[1])).strip()


def text_of(page: str) -> str:
    return " ".join(read(page).texts)


def hidden(page: Read, name: str) -> list[str]:
    return [a["value"] for a in page.tags("input") if a.get("name") == name]


def reserve(client: TestClient, path: str = "/sets") -> tuple[int, str]:
    """Press the one button of a page as it was drawn."""
    drawn = read(client.get(path, headers=PLANNER).text)
    form = next(f for f in drawn.tags("form") if f.get("id") == "sets-reserve")
    sent = {name: hidden(drawn, name) for name in ("key", "product", "serial", "seen")}
    sent["key"] = sent["key"][:1]
    sent["product"] = sent["product"][:1]
    answer = client.post(form["action"], data=sent, headers=PLANNER)
    return answer.status_code, answer.text


def test_the_page_is_never_empty_while_a_set_can_be_built(client: TestClient) -> None:
    page = client.get("/sets").text

    assert re.fullmatch(
        r"Answer A pairs every blade within [\d,]+ g·mm of its opposite\.", answer_of(page)
    )
    assert "Three answers" in text_of(page)
    assert "Seen from the front, slots clockwise" in text_of(page)
    assert "an authorised person decide" in text_of(page)


def test_the_answer_of_the_page_has_at_most_90_letters(client: TestClient) -> None:
    paths = ("/sets", "/sets?exchange=1-2", "/sets?opposite=1", "/sets?find=RB-1")

    assert all(len(answer_of(client.get(path).text)) <= 90 for path in paths)


def test_one_blade_short_says_so_and_where_the_others_are(sqlite_url: str) -> None:
    for hall in hall_of(sqlite_url, 7):
        page = browser(sqlite_url, hall).get("/sets").text
        assert answer_of(page) == "1 blade short: a set needs 8, and 7 may enter."
        assert "Why each is excluded" in text_of(page)


def test_an_empty_stock_keeps_the_frame_of_the_ring(sqlite_url: str) -> None:
    for hall in hall_of(sqlite_url, 0):
        page = browser(sqlite_url, hall).get("/sets").text
        assert answer_of(page) == "8 blades short: a set needs 8, and 0 may enter."
        assert "An empty ring" in text_of(page)


def test_where_nothing_is_built_in_sets_the_page_says_how_it_would_be(
    sqlite_floor: Floor, sqlite_url: str
) -> None:
    app = create_app(Settings(database_url=sqlite_url), sqlite_floor.ledger)
    open_to_readers(app)
    page = TestClient(app).get("/sets").text

    assert answer_of(page) == "No product is built in sets yet."
    assert "/ground" in [a["href"] for a in read(page).tags("a")]


def test_a_product_that_is_not_built_in_sets_is_not_found(client: TestClient) -> None:
    assert client.get("/sets?product=CASE").status_code == 404


def test_an_exchange_by_hand_is_shown_at_once_and_can_be_put_back(client: TestClient) -> None:
    page = client.get("/sets?slot=1&with=2").text

    assert answer_of(page).startswith("By hand, answer A goes from ")
    undo = [a["href"] for a in read(page).tags("a") if a["href"] == "/sets"]
    assert undo, "putting the only exchange back leads to the page without it"
    assert "1-2" in text_of(page)


def test_what_is_asked_wrongly_is_told_on_the_page(client: TestClient) -> None:
    for path, why in (
        ("/sets?opposite=much", "opposite difference 'much' is not a number"),
        ("/sets?lock=9:RB-1", "there is no slot 9 to lock"),
        ("/sets?exchange=1-nobody", "nobody is neither a slot nor a blade"),
        ("/sets?answer=Z", "there is no answer 'Z'"),
    ):
        answer = client.get(path)
        assert answer.status_code == 422
        assert why in text_of(answer.text)


def test_an_impossible_rule_offers_the_smallest_that_is_possible(client: TestClient) -> None:
    page = client.get("/sets?opposite=0.01").text
    offered = [
        a["href"] for a in read(page).tags("a") if "c-button--solid" in a.get("class", "")
    ]

    assert answer_of(page) == "No set can be built as asked."
    assert answer_of(client.get(offered[0]).text).startswith("Answer A pairs every blade")


def test_a_locked_blade_stands_in_its_slot_in_every_answer(client: TestClient) -> None:
    for letter in "ABC":
        path = f"/sets/file.csv?lock=3:RB-11&answer={letter}&sheet=slots"
        rows = csv_table(client.get(path).content)[1]
        assert [row[1] for row in rows[1:] if row[0] == "3"] == ["RB-11"]


def test_filters_narrow_the_stock_and_an_excluded_blade_is_in_no_set(
    client: TestClient,
) -> None:
    page = client.get("/sets/stock?find=RB-1").text
    rows = csv_table(
        client.get("/sets/file.csv?exclude=RB-5&exclude=RB-6&sheet=slots").content
    )[1]

    assert answer_of(page).startswith("11 blades may enter a set")
    assert not {"RB-5", "RB-6"} & {row[1] for row in rows}


def test_the_stock_names_why_each_blade_is_excluded(client: TestClient, hall: RingHall) -> None:
    hall.book("supervisor", serial="RB-4", act="hold", reason="dropped on the floor")

    page = client.get("/sets/stock").text

    assert "on hold: dropped on the floor" in text_of(page)
    assert answer_of(page).startswith("19 blades may enter a set")


def test_reserving_books_exactly_what_is_drawn(client: TestClient, hall: RingHall) -> None:
    drawn = hidden(read(client.get("/sets?exchange=1-2", headers=PLANNER).text), "serial")

    status, _ = reserve(client, "/sets?exchange=1-2")

    assert status == 303
    assert hall.set("RH8-S001").slots == drawn
    assert "Reserve A as RH8-S002" in client.get("/sets", headers=PLANNER).text


def test_a_blade_taken_meanwhile_spoils_the_act_and_is_named(
    client: TestClient, hall: RingHall
) -> None:
    page = client.get("/sets", headers=PLANNER).text
    drawn = read(page)
    serials = hidden(drawn, "serial")
    hall.book("supervisor", serial=serials[0], act="hold", reason="look again")
    form = next(f for f in drawn.tags("form") if f.get("id") == "sets-reserve")
    sent = {name: hidden(drawn, name) for name in ("serial", "seen")}

    answer = client.post(
        form["action"], data={**sent, "key": "k", "product": PRODUCT}, headers=PLANNER
    )

    assert answer.status_code == 409
    assert f"{serials[0]} is on hold: look again" in text_of(answer.text)
    assert hall.part(serials[1]).reservation is None


def test_who_may_not_reserve_cannot_press_the_button(client: TestClient) -> None:
    page = read(client.get("/sets", headers={AS: "maker-1", **HERE}).text)
    form = next(f for f in page.tags("form") if f.get("id") == "sets-reserve")

    button = next(b for b in page.tags("button") if "c-button--solid" in b.get("class", ""))
    sent = {name: hidden(page, name) for name in ("serial", "seen")}
    maker = {AS: "maker-1", **HERE}
    answer = client.post(
        form["action"], data={**sent, "key": "k", "product": PRODUCT}, headers=maker
    )

    assert "disabled" in button
    assert answer.status_code == 403
    assert "maker may not do this" in text_of(answer.text)


def test_as_of_the_past_the_acts_are_gone(client: TestClient) -> None:
    page = client.get("/sets?as_of=2026-09-30T12:00").text

    assert "Answer A pairs every blade" in answer_of(page)
    assert "is-as-of" in page
    assert [f["action"] for f in read(page).tags("form") if f.get("method") == "post"] == []


def test_before_the_blades_were_finished_there_is_no_set(client: TestClient) -> None:
    page = client.get("/sets?as_of=2026-09-21T05:00").text

    assert answer_of(page) == "8 blades short: a set needs 8, and 0 may enter."


def test_without_rotor_data_the_uncertainty_is_said_to_be_unknown(
    client: TestClient, hall: RingHall
) -> None:
    assert "The uncertainty is not known" in text_of(client.get("/sets").text)

    rotor = {"moment_u_g_mm": 10.0}
    act = SetRotor(key=hall.key(), product=PRODUCT, rotor=rotor, reason="scale certificate")
    hall.act("design-authority", act)

    page = text_of(client.get("/sets").text)
    assert "the scale's alone" in page
    # 10·√8·1.731 = 48.96 g·mm, told to two digits.
    assert "±\u202f49" in page
    assert "dotted share" not in page


def test_a_share_is_compared_with_residual_and_uncertainty_together(
    client: TestClient, hall: RingHall
) -> None:
    rotor = {"moment_u_g_mm": 10.0, "slot_angle_u_deg": 0.01, "share_g_mm": 20.0}
    act = SetRotor(key=hall.key(), product=PRODUCT, rotor=rotor, reason="drawing 7")
    hall.act("design-authority", act)

    page = text_of(client.get("/sets").text)

    assert "more than the share 20" in page
    assert "slot angle 0.01°" in page


def test_a_ring_numbered_anticlockwise_from_the_rear_says_so(
    client: TestClient, hall: RingHall
) -> None:
    rotor = {"clockwise": False, "view": "rear"}
    act = SetRotor(key=hall.key(), product=PRODUCT, rotor=rotor, reason="drawing 7")
    hall.act("design-authority", act)

    assert "Seen from the rear, slots anticlockwise" in text_of(client.get("/sets").text)


def test_the_files_hold_exactly_the_tables_of_the_page(client: TestClient) -> None:
    page = client.get("/sets?answer=B")
    links = [a["href"] for a in read(page.text).tags("a") if "download" in a]

    assert {link.partition("?")[0] for link in links} == {"/sets/file.csv", "/sets/file.xlsx"}
    rows = csv_table(client.get("/sets/file.csv?answer=B&sheet=slots").content)[1]
    assert len(rows) == 9


def test_the_address_with_a_strange_serial_does_no_harm(client: TestClient) -> None:
    path = f"/sets?exclude={quote('<b>x</b>&')}"

    assert "<b>x</b>&" not in client.get(path).text


def test_a_ring_of_an_odd_number_is_led_by_its_neighbours(
    sqlite_url: str, hall: RingHall
) -> None:
    card = parse_route(
        f'[product]\ncode = "{PRODUCT}"\nname = "x"\nrevision = "2"\nset_size = 7\n'
        '[[step]]\nnumber = 10\nname = "Form"\nkind = "forming"\n',
        "route",
    )
    hall.ledger.execute(CODE, LoadRoute(card=card), SYSTEM)

    page = browser(sqlite_url, hall).get("/sets").text

    assert answer_of(page).startswith("Answer A keeps neighbours within ")
    assert "Neighbours, largest difference first" in text_of(page)

"""The Paper pages and a rack at once, as a browser without scripts asks."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from tests.make.bench import NOW, Screen, open_bench
from tests.make.html import read

FORM = {
    "by": "insp-1", "began": "2026-10-01T11:00", "ended": "2026-10-01T11:20",
    "outcome": "pass", "reading.chord": "10.1", "reading.twist": "1.5", "act": "enter",
}  # fmt: skip


@pytest.fixture
def screen(sqlite_url: str) -> Iterator[Screen]:
    """Bench 4 with an inspector; V-1, V-2 and V-3 wait for their inspection."""
    ledger = open_bench(sqlite_url, FixedClock(parse_instant(NOW)))
    yield Screen(sqlite_url, ledger)
    ledger.store.close()


def told(html: str) -> str:
    """All words of a page."""
    return " ".join(read(html).texts)


def test_a_pack_prints_a_numbered_sheet_for_each_part(screen: Screen) -> None:
    made = screen.client.post("/paper", data={"key": "p-1", "group": ""})
    html = screen.client.get(made.headers["location"]).text

    assert made.headers["location"].endswith("/paper/P-0001")
    assert html.count('class="c-packsheet"') == 3
    assert "P-0001-001" in told(html)
    assert "at least 9.50" in told(html)


def test_two_people_enter_a_sheet_blind_and_it_is_booked(screen: Screen) -> None:
    screen.client.post("/paper", data={"key": "p-1"})
    address = "/paper/sheets/P-0001-001"

    first = screen.client.post(address, data={**FORM, "key": "e-1"})
    screen.choose("sup-1")
    blind = screen.client.get(address).text
    second = screen.client.post(address, data={**FORM, "key": "e-2"})
    page = told(screen.client.get(address).text)

    assert first.status_code == second.status_code == 303
    assert "10.1" not in blind
    assert "entered once" in told(blind)
    assert "P-0001-001: booked" in page
    assert screen.kinds("V-1")[-4:] == ["begin", "measure", "measure", "end"]


def test_different_entries_stand_side_by_side(screen: Screen) -> None:
    screen.client.post("/paper", data={"key": "p-1"})
    address = "/paper/sheets/P-0001-001"
    screen.client.post(address, data={**FORM, "key": "e-1"})
    screen.choose("sup-1")
    screen.client.post(address, data={**FORM, "key": "e-2", "reading.chord": "10.2"})

    page = told(screen.client.get(address).text)

    assert "The two entries differ" in page
    assert "readings chord" in page
    assert "10.1" in page
    assert "10.2" in page
    assert screen.part("V-1").place == "waiting"


def test_a_bad_entry_keeps_what_was_typed(screen: Screen) -> None:
    screen.client.post("/paper", data={"key": "p-1"})
    data = {**FORM, "key": "e-1", "reading.chord": "10,1"}

    answer = screen.client.post("/paper/sheets/P-0001-001", data=data)

    assert answer.status_code == 422
    assert 'value="10,1"' in answer.text
    assert 'value="2026-10-01T11:00"' in answer.text


def test_what_happened_since_is_shown_before_anything_is_booked(screen: Screen) -> None:
    screen.client.post("/paper", data={"key": "p-1"})
    screen.press("V-1", "begin")

    page = told(screen.client.get("/paper/sheets/P-0001-001").text)

    assert "The part went on in the record since the pack was made" in page


def rack(screen: Screen, **given: str) -> str:
    """Post the rack's form; the page's words."""
    fields = {"key": "r-1", "what": "begin", "serials": "V-1\nV-2\nV-3", "act": "look"}
    return told(screen.client.post("/paper/rack", data={**fields, **given}).text)


def test_a_rack_is_looked_at_before_it_is_booked(screen: Screen) -> None:
    page = rack(screen, serials="V-1 V-2 V-9", **{"except": "V-2 label torn"})

    assert "1 of 3 parts would be booked" in page
    assert "exception: label torn" in page
    assert screen.part("V-1").place == "waiting"


def test_a_rack_is_booked_but_for_its_exceptions(screen: Screen) -> None:
    page = rack(screen, act="book", **{"except": "V-2 label torn"})
    again = rack(screen, act="book", **{"except": "V-2 label torn"})

    assert "2 parts booked" in page
    assert [screen.part(f"V-{n}").place for n in (1, 2, 3)] == ["in work", "waiting", "in work"]
    assert "0 of 3 parts would be booked" in again or "not waiting" in again
    assert screen.kinds("V-1").count("begin") == 2  # step 10's, and this one


def test_a_held_part_stays_where_it_is(screen: Screen) -> None:
    screen.press("V-2", "hold", hold_reason="dropped")

    page = rack(screen, act="book")

    assert "is held: dropped" in page
    assert screen.part("V-2").place == "waiting"
    assert screen.part("V-3").place == "in work"


def test_a_step_that_asks_for_readings_is_not_passed_in_bulk(screen: Screen) -> None:
    rack(screen, act="book")

    page = rack(screen, act="book", key="r-2", what="pass")

    assert "step 20 asks for readings; pass it at the Bench" in page
    assert screen.part("V-1").place == "in work"


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"serials": " "}, "scan the parts of the rack first"),
        ({"what": "scrap"}, "choose what is done"),
        ({"what": "move"}, "say where the parts are moved to"),
        ({"except": "V-9 torn"}, "not in the rack"),
        ({"except": "V-1"}, "say why V-1 is an exception"),
    ],
)
def test_a_rack_that_says_too_little_is_refused(
    screen: Screen, given: dict[str, str], why: str
) -> None:
    assert why in rack(screen, **given)


def test_a_rack_is_moved(screen: Screen) -> None:
    page = rack(screen, act="book", what="move", to="RACK-7")

    assert "3 parts booked" in page
    assert screen.part("V-3").whereabouts == "RACK-7"

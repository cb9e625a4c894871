"""A part inside its window at the Bench, and one whose window ran out: what can be pressed."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.clock import FixedClock
from ringwright.core.instants import HOUR_US
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from tests.make.bench import HEADER, Screen, open_bench
from tests.make.html import read
from tests.make.second import signing
from tests.make.windows import FIN

NOON = {"SOON": "10:12", "LATE": "08:00", "EDGE": "09:00"}
"""Fin to when its washing ended; it is noon, and the window is three hours."""


def history() -> str:
    """Each fin formed, washed and dried today."""
    rows = [HEADER]
    for serial, washed in NOON.items():
        for at, act, step, outcome in (
            ("06:00", "create", "", ""),
            ("06:10", "begin", "10", ""),
            ("06:20", "end", "10", "pass"),
            ("06:30", "begin", "20", ""),
            (washed, "end", "20", "pass"),
            (f"{washed[:3]}20", "begin", "30", ""),
            (f"{washed[:3]}30", "end", "30", "pass"),
        ):
            cells = f"2026-10-01T{at}+02:00,{serial},FIN,{act},{step},{outcome}"
            rows.append(cells + ",,,,,,,make-1\n")
    return "".join(rows)


@pytest.fixture
def screen(sqlite_url: str) -> Iterator[Screen]:
    """Bench 4 at noon with a maker."""
    ledger = open_bench(sqlite_url)
    ledger.execute("NORD", LoadRoute(card=parse_route(FIN, "route")), SYSTEM)
    ledger.execute("NORD", LoadHistory(rows=read_csv(history())), SYSTEM)
    yield Screen(sqlite_url, ledger, who="make-1")
    ledger.store.close()


def opened(screen: Screen, serial: str) -> str:
    answer = screen.client.get("/bench", params={"scan": serial})
    assert answer.status_code == 200
    return str(answer.text)


def wait(screen: Screen, hours: float) -> None:
    """The clock goes on; whoever is at the screen signs in anew."""
    clock = screen.ledger.clock
    assert isinstance(clock, FixedClock)
    clock.at_us += int(hours * HOUR_US)
    screen.choose("make-1")


def shown(html: str, act: str) -> bool:
    """True where the act's button stands there unhidden."""
    held: list[bool] = []
    for tag, given in read(html).elements:
        if tag == "div" and "c-actpair" in given.get("class", ""):
            held = ["hidden" in given]
        if tag == "button" and given.get("value") == act:
            return not any(held)
    return False


def test_inside_its_window_it_says_by_when_and_how_long_is_left(screen: Screen) -> None:
    html = opened(screen, "SOON")

    words = " ".join(read(html).texts)
    assert "Begin step 40 by 13:12, 1 h 12 min left" in words
    assert 'data-now-ms="1790848800000"' in html
    assert 'data-until-ms="1790853120000"' in html
    assert (shown(html, "begin"), shown(html, "begin:20")) == (True, False)


def test_at_the_deadline_it_may_begin(screen: Screen) -> None:
    html = opened(screen, "EDGE")

    assert "under 1 min left" in html
    assert shown(html, "begin")
    assert screen.press("EDGE", "begin").status_code == 303
    assert screen.part("EDGE").place == "in work"


def test_once_it_ran_out_two_ways_stand_in_the_place_of_begin(screen: Screen) -> None:
    html = opened(screen, "LATE")

    words = " ".join(read(html).texts)
    assert "Window ran out at 11:00." in words
    assert "Step 40 had to begin within 3\u202fh of the end of step 20." in words
    assert "Clean again begins 20 Wash" in words
    assert "Hold it for the design authority" in words
    assert [shown(html, act) for act in ("begin", "begin:20", "stop:window")] == [
        False, True, True,
    ]  # fmt: skip


def test_a_begin_drawn_before_it_ran_out_books_nothing_and_shows_both_ways(
    screen: Screen,
) -> None:
    form = screen.form("SOON")
    wait(screen, 2)

    answer = screen.send("SOON", form, "begin")

    assert answer.status_code == 422
    assert "the window of SOON ran out at 2026-10-01 13:12+02:00" in answer.text
    assert "Nothing was booked." in answer.text
    assert shown(answer.text, "begin:20")
    assert screen.kinds("SOON").count("begin") == 3


def test_it_is_cleaned_again_with_one_press(screen: Screen) -> None:
    answer = screen.press("LATE", "begin:20")

    assert answer.status_code == 303
    assert (screen.part("LATE").place, screen.part("LATE").step) == ("in work", 20)
    entries = screen.client.get("/bench/entries/LATE").text
    assert "again: the window of step 40 ran out" in entries


def test_after_the_washing_the_screen_says_by_when_the_next_begins(screen: Screen) -> None:
    screen.press("LATE", "begin:20")

    answer = screen.press("LATE", "pass")
    told = screen.client.get(answer.headers["location"]).text

    assert "Begin step 40 by 15:00." in told


def test_a_washing_too_many_is_not_offered(screen: Screen) -> None:
    screen.press("LATE", "begin:20")
    screen.press("LATE", "pass")
    screen.press("LATE", "begin")
    screen.press("LATE", "pass")
    wait(screen, 4)

    html = opened(screen, "LATE")

    assert "It has been at 20 Wash as often as it may." in html
    assert (shown(html, "begin:20"), shown(html, "stop:window")) == (False, True)


def test_one_press_holds_it_for_the_design_authority(screen: Screen) -> None:
    answer = screen.press("LATE", "stop:window", defect="typed in the other box")

    assert answer.status_code == 303
    assert screen.kinds("LATE")[-1] == "stop"
    assert screen.part("LATE").hold.endswith(": window ran out")
    html = opened(screen, "LATE")
    assert "Window ran out at 11:00." in html
    assert not any(shown(html, act) for act in ("begin", "begin:20", "stop:window"))


def test_the_sentence_shows_the_window_and_a_concession_lets_it_begin(screen: Screen) -> None:
    screen.press("LATE", "stop:window")
    screen.choose("da-1")
    listed = screen.client.get("/bench/nonconformities").text
    number = listed.partition("open=")[2].partition('"')[0].partition("&")[0]
    desk = screen.client.get("/bench/nonconformities", params={"open": number}).text
    assert "Step 40 within 3\u202fh of the end of step 20, ran out 11:00" in desk
    form = screen.fields(desk, "/bench/sentences/LATE")
    given = {"decision": "concession", "document": "C-7", "scope": "one fin", "quantity": "1"}

    with signing(screen.ledger, "qe-1", "quality-engineer"):
        answer = screen.client.post("/bench/sentences/LATE", data={**form, **given})
    assert answer.status_code == 303

    screen.choose("make-1")
    html = opened(screen, "LATE")
    assert f"Its window ran out at 11:00; nonconformity {number} lets it begin step 40." in html
    assert [shown(html, act) for act in ("begin", "begin:20")] == [True, False]
    assert screen.press("LATE", "begin").status_code == 303


def test_a_part_of_a_route_without_windows_says_nothing_of_them(screen: Screen) -> None:
    html = opened(screen, "V-1")

    assert 'id="bench-window"' not in html
    assert shown(html, "begin")


def test_a_press_that_waited_for_the_network_is_judged_by_its_own_hour(screen: Screen) -> None:
    form = screen.form("SOON")
    pressed_ms = screen.ledger.clock.now_us() // 1000
    wait(screen, 2)
    given = {**form, "act": "begin", "at_ms": str(pressed_ms), "who": "make-1"}

    answer = screen.client.post("/bench/sent/SOON", data=given)

    assert answer.status_code == 200, answer.text
    assert screen.part("SOON").place == "in work"


@pytest.mark.parametrize("act", ["begin:20", "stop:window"])
def test_both_ways_on_may_wait_for_the_network(screen: Screen, act: str) -> None:
    form = screen.form("LATE")
    at_ms = screen.ledger.clock.now_us() // 1000
    given = {**form, "act": act, "at_ms": str(at_ms), "who": "make-1"}

    answer = screen.client.post("/bench/sent/LATE", data=given)

    assert answer.status_code == 200, answer.text


@pytest.mark.parametrize("act", ["begin:", "begin:x", "begin:999", "begin:9999999999999"])
def test_a_step_that_no_screen_drew_begins_nothing_behind(screen: Screen, act: str) -> None:
    before = screen.kinds("LATE")

    assert screen.press("LATE", act).status_code == 422

    assert screen.kinds("LATE") == before


def test_a_rack_begins_what_is_in_time_and_says_why_the_rest_is_not(screen: Screen) -> None:
    given = {"serials": "SOON LATE", "what": "begin", "act": "book", "key": "r-1"}

    page = screen.client.post("/paper/rack", data=given).text

    assert "the window of LATE ran out" in page
    assert (screen.part("SOON").place, screen.part("LATE").place) == ("in work", "waiting")

"""The time left in a window, run down in a browser by the server's clock."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.ledger.service import Ledger
from ringwright.parts.queries import read_part
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from tests.bench.test_windows import history
from tests.make.bench import open_bench
from tests.make.signing import AS
from tests.make.windows import FIN

pytestmark = pytest.mark.browser
MINUTE_MS = 60_000
WRONG = "2019-03-04T05:06:07"
"""What this browser's own clock says: years behind the server's."""


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    """SOON has 72 minutes and a half, LATE none; the server's clock stands just before noon."""
    record = open_bench(sqlite_url, FixedClock(parse_instant("2026-10-01T11:59:30+02:00")))
    record.execute("NORD", LoadRoute(card=parse_route(FIN, "route")), SYSTEM)
    record.execute("NORD", LoadHistory(rows=read_csv(history())), SYSTEM)
    yield record
    record.store.close()


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """Without the worker, whose requests a test cannot break."""
    with chromium.new_context(
        viewport={"width": 1366, "height": 900},
        timezone_id="Asia/Tokyo",
        locale="en-US",
        service_workers="block",
    ) as context:
        page = context.new_page()
        page.clock.install(time=WRONG)
        page.set_extra_http_headers({AS: "make-1"})
        yield page


def buttons(page: Page) -> list[str]:
    """The large acts that can be pressed, by what they book."""
    found = page.locator(".l-bench__acts button.c-act:visible")
    return [one.get_attribute("value") or "" for one in found.all()]


def test_the_time_left_runs_down_and_then_both_ways_stand_in_the_place_of_begin(
    page: Page, address: str, said: list[str]
) -> None:
    page.goto(f"{address}/bench?scan=SOON")
    window = page.locator("#bench-window p:visible")
    expect(window).to_have_text("Begin step 40 by 13:12, 1 h 12 min left")

    for gone_min, words in ((13, "59 min left"), (58, "1 min left")):
        page.clock.run_for(gone_min * MINUTE_MS)
        expect(window).to_have_text(f"Begin step 40 by 13:12, {words}")
    page.clock.run_for(MINUTE_MS)
    expect(window).to_have_text("Begin step 40 by 13:12, under 1 min left")
    assert buttons(page) == ["begin"]
    page.clock.run_for(32_000)

    expect(window).to_contain_text("Window ran out at 13:12.")
    assert buttons(page) == ["begin:20", "stop:window"]
    expect(page.locator("[data-said]")).to_have_text("Window ran out at 13:12.")
    assert said == []


def test_a_machine_that_slept_shows_what_is_left_when_it_wakes(
    page: Page, address: str
) -> None:
    """Its timers stood still meanwhile; the hands of its clock went on."""
    page.goto(f"{address}/bench?scan=SOON")
    window = page.locator("#bench-window p:visible")
    expect(window).to_contain_text("1 h 12 min left")

    page.clock.fast_forward(70 * MINUTE_MS)

    expect(window).to_contain_text("13:12, 2 min left")


def test_a_clock_that_is_set_back_gives_no_more_time(page: Page, address: str) -> None:
    page.goto(f"{address}/bench?scan=SOON")
    window = page.locator("#bench-window p:visible")
    page.clock.run_for(12 * MINUTE_MS)
    expect(window).to_contain_text("1 h 0 min left")

    page.clock.set_system_time("2018-01-01T00:00:00")
    page.clock.run_for(40_000)

    expect(window).to_contain_text("13:12, 59 min left")


def test_a_card_does_not_press_a_begin_that_is_over(
    page: Page, address: str, ledger: Ledger
) -> None:
    page.goto(f"{address}/bench?scan=SOON")
    expect(page.locator("#scan")).to_be_focused()
    page.clock.run_for(73 * MINUTE_MS)
    assert buttons(page) == ["begin:20", "stop:window"]

    page.fill("#scan", "RW:BEGIN")
    page.press("#scan", "Enter")

    expect(page.locator("#bench-refusal")).to_contain_text("Nothing was booked.")
    with ledger.read("NORD") as look:
        assert read_part(look, "SOON").place == "waiting"


def test_one_press_begins_the_washing_again(page: Page, address: str, ledger: Ledger) -> None:
    page.goto(f"{address}/bench?scan=LATE")
    assert buttons(page) == ["begin:20", "stop:window"]

    page.get_by_role("button", name="Clean again").click()

    expect(page.locator(".c-strip-news")).to_contain_text("Begun")
    with ledger.read("NORD") as look:
        assert (read_part(look, "LATE").place, read_part(look, "LATE").step) == ("in work", 20)


def test_one_press_holds_it(page: Page, address: str, ledger: Ledger) -> None:
    page.goto(f"{address}/bench?scan=LATE")

    page.get_by_role("button", name="for the design authority").click()

    expect(page.locator(".c-after")).to_contain_text("Stopped")
    with ledger.read("NORD") as look:
        assert "window ran out" in (read_part(look, "LATE").hold or "")


def test_without_the_network_the_time_runs_out_all_the_same(page: Page, address: str) -> None:
    page.goto(f"{address}/bench?scan=SOON")
    expect(page.locator("#bench-window p:visible")).to_contain_text("left")
    page.context.set_offline(True)

    page.clock.run_for(73 * MINUTE_MS)

    assert buttons(page) == ["begin:20", "stop:window"]
    expect(page.locator("#bench-window p:visible")).to_contain_text("Window ran out")


def test_the_floors_list_runs_down_too(page: Page, address: str) -> None:
    page.goto(f"{address}/floor/parts?product=FIN")
    row = page.locator("tr", has=page.get_by_role("link", name="SOON"))
    left = row.locator(".c-left > span:visible")
    expect(left).to_have_text("1 h 12 min left")
    page.context.set_offline(True)  # the list asks anew by itself; this is without it

    page.clock.run_for(60 * MINUTE_MS)
    expect(left).to_have_text("12 min left")
    page.clock.run_for(13 * MINUTE_MS)

    expect(left).to_have_text("window ran out")

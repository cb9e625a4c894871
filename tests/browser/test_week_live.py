"""The Week page in a browser: it follows the record and leaves the reader's hands alone."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, Route, expect

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.ledger.service import Ledger
from tests.browser.seeing import hear_nothing
from tests.make import shop

pytestmark = pytest.mark.browser

OUTPUT = "#strip-1 .c-lead"


def book(ledger: Ledger, serial: str) -> None:
    """One more vane goes through the shop."""
    rows = read_csv(shop.HEADER + shop.events(serial, "2026-10-01"))
    ledger.execute("NORD", LoadHistory(rows=rows), SYSTEM)


def test_a_booking_elsewhere_shows_by_itself_and_typing_is_kept(
    page: Page, said: list[str], address: str, ledger: Ledger
) -> None:
    page.goto(address)
    expect(page.locator("body.is-live")).to_be_attached()
    expect(page.locator(OUTPUT)).to_have_text("2")
    page.click("#week-figures summary")
    page.click("#week-as-of summary")
    page.fill("#week-as-of-at", "2026-09-")
    page.evaluate("window.field = document.activeElement; window.scrollTo(0, 300)")
    seen_at = page.locator("#counted-1").bounding_box()

    for serial, output in (("V-010", "3"), ("V-011", "4")):
        book(ledger, serial)
        expect(page.locator(OUTPUT)).to_have_text(output)

    kept = page.evaluate(
        "[document.activeElement === window.field, window.field.value,"
        " document.getElementById('week-figures').open]"
    )
    assert kept == [True, "2026-09-", True]
    # What the reader looks at stays where it is, though rows above it came in.
    assert page.locator("#counted-1").bounding_box() == seen_at
    assert said == []


def test_the_plants_time_is_shown_not_the_browsers(page: Page, address: str) -> None:
    page.goto(address)

    expect(page.locator("#week-foot")).to_contain_text("Thu 1 Oct 2026 12:00:00")
    expect(page.locator("#strip-1-picture")).to_contain_text("now 12:00")


def test_a_page_that_hears_nothing_says_since_when(page: Page, address: str) -> None:
    page.clock.install()
    page.goto(address)
    expect(page.locator(".c-stale")).to_be_hidden()

    hear_nothing(page, "**/week*")

    expect(page.locator(".c-stale")).to_be_visible()
    expect(page.locator(".c-stale")).to_contain_text("since 12:00")
    expect(page.locator(".c-live--not")).to_be_visible()
    expect(page.locator(".c-live--live")).to_be_hidden()


def test_a_script_that_comes_late_costs_the_page_nothing(page: Page, address: str) -> None:
    def late(route: Route) -> None:
        page.wait_for_timeout(700)
        route.continue_()

    page.route("**/hx-sse*", late)
    page.goto(address)

    expect(page.locator("body.is-live")).to_be_attached()


def test_a_page_held_still_waits_until_the_reader_goes_on(
    page: Page, address: str, ledger: Ledger
) -> None:
    page.goto(address)
    expect(page.locator("body.is-live")).to_be_attached()
    page.click("[data-act=pause]")

    book(ledger, "V-010")
    page.wait_for_timeout(2000)
    expect(page.locator(OUTPUT)).to_have_text("2")

    page.click("[data-act=pause]")
    expect(page.locator(OUTPUT)).to_have_text("3", timeout=2000)


@pytest.mark.parametrize("width", [390, 834, 1366, 1920])
@pytest.mark.parametrize("language", ["en", "en-XA"])
def test_no_page_scrolls_sideways(page: Page, address: str, width: int, language: str) -> None:
    page.set_extra_http_headers({"Accept-Language": language})
    page.set_viewport_size({"width": width, "height": 844})

    page.goto(address)

    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_nothing_is_asked_of_another_machine(page: Page, address: str) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))

    page.goto(address)
    page.wait_for_timeout(500)

    assert asked
    assert [url for url in asked if not url.startswith(address)] == []

"""The Bench without the network: what is pressed waits, is sent once, or is refused."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from ringwright.bench.acts import Stop
from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.core.clock import SystemClock
from ringwright.ledger.service import Ledger
from ringwright.parts.queries import read_events, read_part
from ringwright.people.visitor import SESSION
from tests.make.bench import ground_parts, open_bench
from tests.make.floor import INSPECTOR, SUPERVISOR
from tests.make.signing import session_of

pytestmark = pytest.mark.browser


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    """Parts ground and waiting; the clock runs, as the browser's does."""
    history = ground_parts("V-1", "V-2", "V-3").replace("2026-10-01", "2026-09-30")
    record = open_bench(sqlite_url, SystemClock(), history)
    yield record
    record.store.close()


@pytest.fixture
def context(chromium: Browser) -> Iterator[BrowserContext]:
    made = chromium.new_context(
        viewport={"width": 1366, "height": 768}, timezone_id="Asia/Tokyo"
    )
    yield made
    made.close()


@pytest.fixture
def bench(context: BrowserContext, ledger: Ledger, address: str) -> Page:
    """V-1 in work on a screen that the worker looks after."""
    page = in_work(context, ledger, address)
    looked_after(page)
    return page


def in_work(context: BrowserContext, ledger: Ledger, address: str) -> Page:
    """V-1 in work at a station, an inspector signed in."""
    be(context, ledger, address, "insp-1")
    page = context.new_page()
    page.goto(f"{address}/bench/station")
    page.select_option("#choose-station", "B4")
    with page.expect_event("load"):
        page.get_by_role("button", name="Choose", exact=True).click()
    page.goto(f"{address}/bench?scan=V-1")
    page.click("button[name=act][value=begin]")
    expect(page.locator("[data-reading]").first).to_be_visible()
    return page


def be(context: BrowserContext, ledger: Ledger, address: str, who: str) -> None:
    """Somebody is signed in in this browser from now on."""
    secret = session_of(ledger, who)
    context.add_cookies([{"name": SESSION, "value": secret, "url": address}])


def looked_after(page: Page) -> None:
    """Wait until the worker holds the page and its files."""
    page.evaluate("() => navigator.serviceWorker.ready")
    page.reload()
    page.wait_for_function("() => navigator.serviceWorker.controller")
    page.wait_for_function(
        """async () => {
          const pages = await (await caches.open("ringwright-pages")).keys();
          const files = await (await caches.open("ringwright-files")).keys();
          const named = (part) => files.some((one) => one.url.includes(part));
          return pages.length > 2 && named("waiting.js") && named("bench.css") && named("idb");
        }"""
    )


def events(ledger: Ledger, serial: str = "V-1") -> list[Any]:
    with ledger.read("NORD") as read:
        return list(read_events(read, serial))


def kinds(ledger: Ledger, serial: str = "V-1") -> list[str]:
    return [row.kind for row in events(ledger, serial)]


def fill(page: Page, chord: str = "10.1", twist: str = "1.5") -> None:
    page.fill("[name='reading.chord']", chord)
    page.fill("[name='reading.twist']", twist)


def press(page: Page, act: str) -> None:
    page.click(f"button[name=act][value={act}]")


def test_a_reading_entered_off_line_survives_a_reload_and_is_sent_once(
    bench: Page, context: BrowserContext, ledger: Ledger
) -> None:
    context.set_offline(True)
    fill(bench)
    press(bench, "keep")
    expect(bench.locator("[data-rows] li")).to_contain_text(["chord 10.1; twist 1.5"])
    expect(bench.locator("[data-rows] li")).to_contain_text(["not yet sent"])
    expect(bench.locator("[data-waiting-chip]")).to_contain_text("1 not yet sent")
    pressed_us = SystemClock().now_us()

    bench.reload()

    expect(bench.locator("[data-asof]")).to_contain_text("kept in this browser")
    expect(bench.locator("[data-rows] li")).to_have_count(1)
    expect(bench.locator("[name='reading.chord']")).to_have_value("10.1")
    expect(bench.locator("[data-row=chord] .c-reading-row__word")).to_contain_text("not judged")
    assert kinds(ledger).count("measure") == 0
    bench.wait_for_timeout(1500)

    context.set_offline(False)

    expect(bench.locator("[data-waiting-chip]")).to_be_hidden(timeout=20_000)
    measured = [row for row in events(ledger) if row.kind == "measure"]
    assert len(measured) == 2
    assert all(abs(row.at_us - pressed_us) < 1_500_000 for row in measured)
    assert all(row.recorded_at_us - row.at_us > 1_000_000 for row in measured)


def test_what_was_opened_and_begun_just_before_stands_there_after_a_reload(
    bench: Page, context: BrowserContext, ledger: Ledger
) -> None:
    bench.fill("#scan", "V-2")
    bench.keyboard.press("Enter")
    expect(bench.locator("#bench-serial")).to_have_text("V-2")
    press(bench, "begin")
    expect(bench.locator("[data-reading]").first).to_be_visible()

    context.set_offline(True)
    bench.reload()

    expect(bench.locator("#bench-serial")).to_have_text("V-2")
    expect(bench.locator("[data-asof]")).to_be_visible()
    fill(bench)
    press(bench, "keep")
    context.set_offline(False)
    expect(bench.locator("[data-waiting-chip]")).to_be_hidden(timeout=20_000)
    assert kinds(ledger, "V-2")[3:] == ["begin", "measure", "measure"]
    expect(bench.locator("[data-asof]")).to_be_hidden()


def test_what_is_pressed_twice_off_line_books_once_each(
    bench: Page, context: BrowserContext, ledger: Ledger
) -> None:
    context.set_offline(True)
    fill(bench)
    press(bench, "keep")
    expect(bench.locator("[data-rows] li")).to_have_count(1)
    press(bench, "pass")
    expect(bench.locator(".c-proposed")).to_contain_text("Pass, proposed")
    expect(bench.locator("[data-rows] li").nth(1)).to_contain_text("proposed, not yet sent")
    expect(bench.locator("button[name=act][value=pass]")).to_be_hidden()
    assert "end" not in kinds(ledger)[3:]

    context.set_offline(False)

    expect(bench.locator("[data-waiting-chip]")).to_be_hidden(timeout=20_000)
    assert kinds(ledger)[3:] == ["begin", "measure", "measure", "end"]


def test_a_pass_that_a_hold_forbids_is_refused_with_its_reason_until_it_is_read(
    bench: Page, context: BrowserContext, ledger: Ledger
) -> None:
    context.set_offline(True)
    fill(bench)
    press(bench, "pass")
    expect(bench.locator(".c-proposed")).to_be_visible()
    row = {"act": "hold", "serial": "V-1", "reason": "survey failed", "key": "h"}
    ledger.execute("NORD", Book(booking=make_booking(row, None)), SUPERVISOR)

    context.set_offline(False)

    told = bench.locator("[data-of=refused]")
    expect(told).to_contain_text("somebody acted on V-1 first", timeout=20_000)
    assert "end" not in kinds(ledger)[3:]
    bench.reload()
    expect(told).to_contain_text("somebody acted on V-1 first")
    expect(told).to_contain_text("chord 10.1; twist 1.5")
    told.locator("[data-clear]").click()
    expect(told).to_have_count(0)


def test_an_answer_that_was_lost_is_asked_for_again_and_books_nothing_twice(
    chromium: Browser, ledger: Ledger, address: str
) -> None:
    def arrives_but_is_not_answered(route: Any) -> None:
        route.fetch()
        route.abort()

    # Without the worker, whose requests the test cannot break.
    with chromium.new_context(service_workers="block") as context:
        page = in_work(context, ledger, address)
        page.route("**/bench/acts/**", arrives_but_is_not_answered)
        fill(page)
        press(page, "keep")

        expect(page.locator("[data-of=sent]")).to_contain_text("chord 10.1", timeout=20_000)
        expect(page.locator("[data-waiting-chip]")).to_be_hidden()
    assert kinds(ledger).count("measure") == 2


def test_readings_are_kept_though_the_visit_ended_meanwhile_and_say_when_they_were_taken(
    bench: Page, context: BrowserContext, ledger: Ledger
) -> None:
    context.set_offline(True)
    fill(bench)
    press(bench, "keep")
    expect(bench.locator("[data-rows] li")).to_have_count(1)
    bench.wait_for_timeout(50)
    stop = Stop(serial="V-1", key="s", defect="crack")
    ledger.execute("NORD", stop, INSPECTOR)

    context.set_offline(False)

    expect(bench.locator("[data-waiting-chip]")).to_be_hidden(timeout=20_000)
    assert kinds(ledger).count("measure") == 2


def test_a_part_never_opened_takes_a_note_off_line(
    bench: Page, context: BrowserContext, ledger: Ledger
) -> None:
    context.set_offline(True)
    bench.fill("#scan", "V-3")
    bench.keyboard.press("Enter")
    expect(bench.locator("[data-unknown] h3")).to_contain_text("V-3")
    bench.fill("#waiting-note", "dent at the root")
    bench.click("[data-keep-note]")

    context.set_offline(False)

    expect(bench.locator("[data-waiting-chip]")).to_be_hidden(timeout=20_000)
    assert kinds(ledger, "V-3")[-1] == "note"


def test_a_pass_lacking_readings_is_not_even_proposed(
    bench: Page, context: BrowserContext
) -> None:
    context.set_offline(True)
    bench.fill("[name='reading.chord']", "10.1")
    press(bench, "pass")

    expect(bench.locator("[data-lack]")).to_contain_text("1 more reading")
    expect(bench.locator("[data-rows] li")).to_have_count(0)


def test_readings_that_were_kept_already_wait_for_nothing(
    bench: Page, context: BrowserContext
) -> None:
    context.set_offline(True)
    press(bench, "keep")

    expect(bench.locator("[data-nothing]")).to_be_visible()
    expect(bench.locator("[data-rows] li")).to_have_count(0)


def test_nobody_else_sends_or_reads_what_somebody_left_waiting(
    bench: Page, context: BrowserContext, ledger: Ledger, address: str
) -> None:
    context.set_offline(True)
    fill(bench)
    press(bench, "keep")
    expect(bench.locator("[data-rows] li")).to_have_count(1)
    be(context, ledger, address, "make-1")
    context.set_offline(False)

    bench.goto(f"{address}/bench?scan=V-1")

    expect(bench.locator("[data-others]")).to_contain_text("1 of insp-1")
    expect(bench.locator("[data-rows] li")).to_have_count(0)
    bench.wait_for_timeout(1500)
    assert kinds(ledger).count("measure") == 0
    assert "insp-1" not in bench.evaluate(
        """async () => {
          const pages = await caches.open("ringwright-pages");
          const kept = (await pages.keys()).map((one) => pages.match(one));
          const texts = await Promise.all((await Promise.all(kept)).map((one) => one.text()));
          return texts.map((text) => /data-who="([^"]*)"/.exec(text)?.[1]).join();
        }"""
    )
    with ledger.read("NORD") as read:
        assert read_part(read, "V-1").place == "in work"

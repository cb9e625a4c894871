"""The Bench in a browser: focus, scans as fast as a scanner's, cards, refusals, no network."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from ringwright.core.clock import Clock, SystemClock
from ringwright.ledger.service import Ledger
from ringwright.parts.queries import read_events, read_part
from tests.make.bench import ground_parts, open_bench
from tests.make.signing import AS

pytestmark = pytest.mark.browser

LONG = "V-ABCDEFGHIJKLMNOPQRSTUVWXYZ-3"
"""30 characters, as on a long label."""
FAST = """([text, gap]) => new Promise((done) => {
  const keys = [...text, "Enter"];
  let place = 0;
  const send = () => {
    const key = keys[place++];
    const here = document.activeElement || document.body;
    const go = here.dispatchEvent(new KeyboardEvent("keydown",
      { key, bubbles: true, cancelable: true }));
    const field = document.activeElement;
    if (go && key.length === 1 && "value" in field && field.matches("input, textarea")) {
      field.setRangeText(key, field.selectionStart ?? field.value.length,
        field.selectionEnd ?? field.value.length, "end");
    } else if (go && key === "Enter" && field.form) {
      const first = field.form.querySelector("button[type=submit]");
      if (!first) field.form.requestSubmit();
      else if (!first.disabled) first.click();
    }
    if (place < keys.length) setTimeout(send, gap); else done();
  };
  send();
})"""
"""What a scanner does: a key every few milliseconds into whatever has the focus, then Enter."""


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    """Parts ground and waiting; the clock runs, so that ten seconds can pass."""
    clock: Clock = SystemClock()
    history = ground_parts("V-1", "V-2", LONG)
    record = open_bench(sqlite_url, clock, history.replace("2026-10-01", "2026-09-30"))
    yield record
    record.store.close()


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """Without the worker, whose requests a test cannot break."""
    with chromium.new_context(
        viewport={"width": 1366, "height": 768},
        timezone_id="Asia/Tokyo",
        locale="en-US",
        service_workers="block",
    ) as context:
        yield context.new_page()


@pytest.fixture
def bench(page: Page, address: str) -> Page:
    """The Bench with its station, an inspector signed in."""
    page.set_extra_http_headers({AS: "insp-1"})
    page.goto(f"{address}/bench/station")
    page.select_option("#choose-station", "B4")
    with page.expect_event("load"):
        page.get_by_role("button", name="Choose", exact=True).click()
    # A page that is still coming hears no key: a scan waits, as a person does, for the field.
    expect(page.locator("#scan")).to_be_focused()
    return page


def scan(page: Page, text: str) -> None:
    """A scanner: a burst of keys and Enter, into whatever has the focus."""
    page.keyboard.type(text, delay=3)
    page.keyboard.press("Enter")


def opened(page: Page, serial: str) -> None:
    scan(page, serial)
    expect(page.locator("#bench-serial")).to_have_text(serial)


def begun(page: Page, serial: str) -> None:
    opened(page, serial)
    page.get_by_role("button", name="Begin").first.click()
    expect(page.locator(".c-strip-news")).to_contain_text("Begun")


def kinds(ledger: Ledger, serial: str) -> list[str]:
    with ledger.read("NORD") as look:
        return [row.kind for row in read_events(look, serial)][3:]


def place(ledger: Ledger, serial: str) -> Any:
    with ledger.read("NORD") as look:
        return read_part(look, serial)


def test_the_focus_waits_for_a_scan_from_the_start(bench: Page) -> None:
    assert bench.evaluate("document.activeElement.id") == "scan"


@pytest.mark.parametrize("focus", ["body", "button", "reading", "select", "summary"])
def test_a_scan_lands_whole_from_any_focus_and_books_nothing(
    bench: Page, ledger: Ledger, focus: str
) -> None:
    begun(bench, "V-1")
    bench.fill("[name='reading.chord']", "10.1")
    before = ledger.head("NORD")
    bench.click("#bench-stop summary")
    bench.evaluate(
        """(name) => ({
          body: () => document.activeElement.blur(),
          button: () => document.querySelector("button[value=pass]").focus(),
          reading: () => document.querySelector("[name='reading.chord']").focus(),
          select: () => document.querySelector("#bench-characteristic").focus(),
          summary: () => document.querySelector("#bench-stop summary").focus(),
        })[name]()""",
        focus,
    )

    bench.evaluate(FAST, [LONG, 3])

    expect(bench.locator("#bench-serial")).to_have_text(LONG)
    assert ledger.head("NORD") == before


def test_forty_scans_in_a_row_open_what_was_scanned(bench: Page) -> None:
    wrong = []
    for turn in range(40):
        serial = (LONG, "V-1", "V-2")[turn % 3]
        bench.evaluate(FAST, [serial, 3])
        try:
            expect(bench.locator("#bench-serial")).to_have_text(serial, timeout=3000)
        except AssertionError:
            wrong.append((turn, serial))

    assert wrong == []


def test_a_part_is_passed_by_scans_alone(bench: Page, ledger: Ledger, said: list[str]) -> None:
    opened(bench, "V-1")
    scan(bench, "RW:BEGIN")
    expect(bench.locator(".c-strip-news")).to_contain_text("Begun")
    bench.fill("[name='reading.chord']", "10.1")
    bench.fill("[name='reading.twist']", "1.5")

    bench.locator("#scan").focus()
    scan(bench, "rw:pass")

    expect(bench.locator("#bench-after")).to_have_text("V-1")
    expect(bench.locator("#bench")).to_contain_text("30 Weigh")
    assert kinds(ledger, "V-1") == ["begin", "measure", "measure", "end"]
    assert said == []


def test_a_pass_card_on_a_part_that_is_not_read_is_refused(bench: Page, ledger: Ledger) -> None:
    begun(bench, "V-1")

    scan(bench, "RW:PASS")

    expect(bench.locator("#bench-refusal")).to_contain_text("not read yet: chord, twist")
    expect(bench.locator("#bench-refusal")).to_contain_text("Nothing was booked.")
    assert kinds(ledger, "V-1") == ["begin"]


def test_a_card_without_a_part_does_nothing(bench: Page, ledger: Ledger) -> None:
    before = ledger.head("NORD")

    scan(bench, "RW:PASS")

    expect(bench.locator("#bench-refusal")).to_contain_text("The card did nothing")
    assert ledger.head("NORD") == before


def test_a_stop_card_opens_its_choice_and_a_second_act_books(
    bench: Page, ledger: Ledger
) -> None:
    begun(bench, "V-1")

    scan(bench, "RW:STOP")
    expect(bench.locator("#bench-defect")).to_be_focused()
    assert kinds(ledger, "V-1") == ["begin"]
    bench.keyboard.type("dent", delay=60)
    bench.get_by_role("button", name="Stop it and hold it").click()

    expect(bench.locator("#bench")).to_contain_text("quarantine")
    assert kinds(ledger, "V-1") == ["begin", "stop"]


def test_a_double_click_on_pass_books_once(bench: Page, ledger: Ledger) -> None:
    begun(bench, "V-1")
    bench.fill("[name='reading.chord']", "10.1")
    bench.fill("[name='reading.twist']", "1.5")

    bench.locator("button[value=pass]").dblclick()

    expect(bench.locator("#bench-after")).to_have_text("V-1")
    assert kinds(ledger, "V-1").count("end") == 1


def test_a_typed_reading_outside_shows_at_once_and_enter_books_nothing(
    bench: Page, ledger: Ledger
) -> None:
    begun(bench, "V-1")
    bench.click("[name='reading.twist']")
    bench.keyboard.type("2.5", delay=80)

    bench.keyboard.press("Enter")

    row = bench.locator("[data-row=twist]")
    expect(row).to_contain_text("outside, not booked")
    expect(row.locator(".c-ruler__ring")).to_have_count(1)
    assert kinds(ledger, "V-1") == ["begin"]


def test_an_error_removes_the_old_success_at_once(bench: Page) -> None:
    begun(bench, "V-1")

    scan(bench, "NO-SUCH-PART")

    expect(bench.locator("#bench-refusal")).to_contain_text("Not opened")
    expect(bench.locator("#bench")).not_to_contain_text("Begun")


def test_without_an_answer_the_old_success_goes_and_the_press_waits_and_is_sent(
    bench: Page, ledger: Ledger
) -> None:
    begun(bench, "V-1")
    bench.fill("[name='reading.chord']", "10.1")
    bench.fill("[name='reading.twist']", "1.5")
    bench.route("**/bench/acts/**", lambda route: route.abort())

    bench.locator("button[value=pass]").click()
    expect(bench.locator(".c-proposed, [data-of=sent]").first).to_be_visible()
    expect(bench.locator(".c-strip-news")).to_have_count(0)

    expect(bench.locator("[data-of=sent]")).to_contain_text("Pass", timeout=20_000)
    expect(bench.locator("#bench-unsure")).to_be_hidden()
    assert kinds(ledger, "V-1").count("end") == 1


def test_a_press_that_waits_is_never_dated_before_what_its_screen_shows(
    bench: Page, ledger: Ledger
) -> None:
    opened(bench, "V-1")
    bench.route("**/bench/acts/**", lambda route: route.abort())
    ahead = "String(Date.now() + 60000)"  # this browser reckons a minute behind the server
    shown = bench.evaluate(f"document.getElementById('bench').dataset.nowMs = {ahead}")

    bench.get_by_role("button", name="Begin").first.click()

    expect(bench.locator("[data-of=sent]")).to_contain_text("Begin", timeout=20_000)
    with ledger.read("NORD") as look:
        assert read_events(look, "V-1")[-1].at_us > int(shown) * 1000


def test_an_answer_lost_on_its_way_back_is_asked_for_again_and_booked_once(
    bench: Page, ledger: Ledger
) -> None:
    begun(bench, "V-1")
    bench.fill("[name='reading.chord']", "10.1")
    bench.fill("[name='reading.twist']", "1.5")

    def lose(route: Any) -> None:
        route.fetch()  # the server books it, the answer never arrives
        route.abort()

    bench.route("**/bench/acts/**", lose)
    bench.locator("button[value=pass]").click()

    expect(bench.locator("[data-of=sent]")).to_contain_text("Pass", timeout=20_000)
    assert kinds(ledger, "V-1").count("end") == 1


def test_the_time_to_take_back_runs_down_and_ends(bench: Page, ledger: Ledger) -> None:
    begun(bench, "V-1")
    bench.get_by_role("button", name="Take it back").click()
    expect(bench.locator(".c-strip-news")).to_contain_text("Taken back")
    assert place(ledger, "V-1").place == "waiting"

    bench.get_by_role("button", name="Begin").first.click()
    expect(bench.get_by_role("button", name="Take it back")).to_be_visible()

    expect(bench.get_by_role("button", name="Take it back")).to_have_count(0, timeout=11_500)


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (834, 1112), (390, 844)])
def test_every_target_is_large_and_nothing_runs_off_the_side(
    bench: Page, width: int, height: int
) -> None:
    bench.set_viewport_size({"width": width, "height": height})
    begun(bench, "V-1")

    small = bench.evaluate(
        """() => [...document.querySelectorAll("#main button, #main summary.c-act, #main input,"
          + " #main select, #main a.c-button")].filter((e) => e.checkVisibility()
          && e.type !== "hidden" && e.getBoundingClientRect().height < 60)
          .map((e) => e.outerHTML)"""
    )
    wide = bench.evaluate("document.documentElement.scrollWidth - innerWidth")

    assert small == []
    assert wide <= 0


def test_the_bench_works_without_scripts(chromium: Any, address: str, ledger: Ledger) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.set_extra_http_headers({AS: "insp-1"})
    page.goto(f"{address}/bench/station")
    page.select_option("#choose-station", "B4")
    page.get_by_role("button", name="Choose", exact=True).click()
    page.fill("#scan", "V-2")
    page.press("#scan", "Enter")
    page.get_by_role("button", name="Begin").first.click()
    page.fill("[name='reading.chord']", "10.1")
    page.fill("[name='reading.twist']", "1.5")
    page.press("[name='reading.twist']", "Enter")
    assert kinds(ledger, "V-2") == ["begin"]

    page.locator("button[value=pass]").click()

    expect(page.locator("#bench-after")).to_have_text("V-2")
    assert kinds(ledger, "V-2") == ["begin", "measure", "measure", "end"]
    context.close()

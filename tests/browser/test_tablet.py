"""The Bench on a 10-inch tablet in gloves: every target is measured; and by keys alone.

64 px are 17 mm at 96 px to the inch: what a gloved finger hits (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from ringwright.core.clock import SystemClock
from ringwright.ledger.service import Ledger
from ringwright.parts.queries import read_events
from ringwright.people.visitor import SESSION
from tests.make.bench import ground_parts, open_bench
from tests.make.signing import session_of

pytestmark = pytest.mark.browser
TARGET_PX = 64
MEASURE = """() => {
  for (const one of document.querySelectorAll("main details")) one.open = true;
  const seen = (one) => one.checkVisibility() && one.getClientRects().length;
  const targets = "a, button, summary, select, textarea, input, label:has(input)";
  const found = [...document.querySelectorAll(targets)].filter(seen);
  const small = found.filter((one) => {
    if (one.matches("label input, .l-skip")) return false; // the label around it is the target
    const box = one.getBoundingClientRect();
    return Math.min(box.width, box.height) < 63.5;
  });
  const told = (one) => {
    const box = one.getBoundingClientRect();
    const words = one.textContent.trim().slice(0, 30);
    return `${one.tagName} ${one.className} ${words} ${box.width}x${box.height}`;
  };
  return { count: found.length, small: small.map(told) };
}"""
"""Every control that can be seen, all boxes opened; those smaller than 64 px either way."""


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    history = ground_parts("V-1", "V-2").replace("2026-10-01", "2026-09-30")
    record = open_bench(sqlite_url, SystemClock(), history)
    yield record
    record.store.close()


@pytest.fixture(params=[(1280, 800), (800, 1280)], ids=["across", "upright"])
def tablet(
    request: Any, chromium: Browser, ledger: Ledger, address: str
) -> Iterator[BrowserContext]:
    width, height = request.param
    with chromium.new_context(
        viewport={"width": width, "height": height}, has_touch=True, is_mobile=True
    ) as context:
        secret = session_of(ledger, "insp-1")
        context.add_cookies([{"name": SESSION, "value": secret, "url": address}])
        yield context


def targets(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.evaluate(MEASURE)
    return found


def test_every_target_of_the_bench_is_64_px_whatever_stands_on_it(
    tablet: BrowserContext, address: str
) -> None:
    page = tablet.new_page()
    page.goto(f"{address}/bench")
    idle = targets(page)
    page.goto(f"{address}/bench?scan=V-1")
    waiting = targets(page)
    page.goto(f"{address}/bench?scan=V-1")
    page.tap("button[name=act][value=begin]")
    expect(page.locator("[data-reading]").first).to_be_visible()
    work = targets(page)
    tablet.set_offline(True)
    page.evaluate("() => window.dispatchEvent(new Event('offline'))")
    page.fill("[name='reading.chord']", "10.1")
    page.locator("button[name=act][value=keep]").evaluate("(one) => one.click()")
    expect(page.locator("[data-rows] li")).to_have_count(1)
    without = targets(page)

    small = [one for found in (idle, waiting, work, without) for one in found["small"]]
    assert small == []
    assert idle["count"] >= 5
    assert work["count"] > 30


def test_nothing_is_wider_than_the_tablet(tablet: BrowserContext, address: str) -> None:
    page = tablet.new_page()
    page.goto(f"{address}/bench?scan=V-1")

    wide = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert page.evaluate(wide) <= 0


def test_a_part_is_measured_and_passed_with_the_keyboard_alone(
    chromium: Browser, ledger: Ledger, address: str
) -> None:
    with chromium.new_context(viewport={"width": 1366, "height": 768}) as context:
        secret = session_of(ledger, "insp-1")
        context.add_cookies([{"name": SESSION, "value": secret, "url": address}])
        page = context.new_page()
        page.goto(f"{address}/bench")
        expect(page.locator("#scan")).to_be_focused()
        page.keyboard.type("V-1", delay=60)
        page.keyboard.press("Enter")
        expect(page.locator("#bench-serial")).to_have_text("V-1")
        page.keyboard.type("RW:BEGIN", delay=60)
        page.keyboard.press("Enter")
        expect(page.locator("[data-reading]").first).to_be_visible()
        while not page.evaluate("() => document.activeElement.matches('[data-reading]')"):
            page.keyboard.press("Tab")
        page.keyboard.type("10.1", delay=60)
        page.keyboard.press("Enter")
        page.keyboard.type("1.5", delay=60)
        page.keyboard.press("Enter")
        expect(page.locator("button[name=act][value=pass]")).to_be_focused()
        page.keyboard.press("Enter")
        expect(page.locator("#bench-after")).to_have_text("V-1")
    with ledger.read("NORD") as read:
        kinds = [row.kind for row in read_events(read, "V-1")]
    assert kinds[3:] == ["begin", "measure", "measure", "end"]

"""A gauge scanned at the Bench, its guard band, and its check on the master, in a browser."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.ledger.service import Ledger
from ringwright.parts.queries import read_events
from tests.browser.test_bench import opened, scan
from tests.make import bench as shop
from tests.make.signing import AS

pytestmark = pytest.mark.browser

GAUGES = "".join(
    f"""
[[gauge]]
code = "{code}"
kind = "cmm"
unit = "mm"
uncertainty = {uncertainty}
calibrated = "2026-03-01"
due = "2027-02-28"
"""
    for code, uncertainty in (("CMM-1", 0.01), ("CMM-2", 0.04))
)
MASTER = """
[[master]]
code = "MB-1"
gauge_kind = "cmm"
unit = "mm"
value = 25.0
allowed = 0.02
"""


@pytest.fixture
def ledger(sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Ledger]:
    """Two machines with one master; the chord is decided with a guard band."""
    chord = 'code = "chord"\n'
    route = shop.ROUTE.replace(chord, f'{chord}gauge_kind = "cmm"\ndecision = "guarded"\n')
    monkeypatch.setattr(shop, "SITE", shop.SITE + GAUGES + MASTER)
    monkeypatch.setattr(shop, "ROUTE", route)
    record = shop.open_bench(sqlite_url, FixedClock(parse_instant(shop.NOW)))
    begin = "2026-10-01T11:00+02:00,V-1,VANE,begin,20,,,,,,,B4,insp-1\n"
    rows = read_csv(shop.HEADER + begin)
    record.execute("NORD", LoadHistory(rows=rows), SYSTEM)
    yield record
    record.store.close()


def check(page: Page, address: str, gauge: str, value: str) -> None:
    """Hold a gauge to its master."""
    page.goto(f"{address}/gauges")
    form = page.locator("form", has=page.locator(f"input[name=gauge][value='{gauge}']"))
    form.get_by_label("Reading on MB-1").fill(value)
    with page.expect_event("load"):
        form.get_by_role("button", name="Keep the check").click()


def test_a_scanned_gauge_is_chosen_and_its_guard_band_drawn(
    page: Page, address: str, ledger: Ledger, said: list[str]
) -> None:
    page.set_extra_http_headers({AS: "insp-1"})
    check(page, address, "CMM-1", "25.01")
    expect(page.get_by_text("Checked", exact=True)).to_be_visible()
    page.goto(f"{address}/bench/station")
    page.select_option("#choose-station", "B4")
    with page.expect_event("load"):
        page.get_by_role("button", name="Choose", exact=True).click()
    opened(page, "V-1")
    choice = page.locator("select[data-gauge]")
    expect(choice).to_have_value("")

    page.locator("#scan").focus()
    scan(page, "cmm-1")
    expect(choice).to_have_value("CMM-1")
    field = page.locator("[data-row=chord] [data-reading]")
    expect(field).to_be_focused()
    page.keyboard.type("10.49", delay=90)
    page.keyboard.press("Enter")

    word = page.locator("[data-row=chord] .c-reading-row__word")
    expect(word).to_have_text("in the guard band, not booked")
    assert page.locator("[data-row=chord] rect").count() == 2
    expect(page.locator("#bench-allread")).to_contain_text("It cannot pass.")
    choice.select_option("CMM-2")
    expect(page.locator("#bench-with-1-note")).to_contain_text("not checked on MB-1")
    choice.select_option("CMM-1")
    expect(page.locator("#bench-with-1-note")).to_contain_text("Scanning the gauge chooses it")
    page.get_by_role("button", name="Keep the readings").click()
    expect(word).to_have_text("in the guard band")
    with ledger.read("NORD") as read:
        assert read_events(read, "V-1")[-1].kind == "measure"
    assert said == []


def test_a_failed_check_is_told_at_the_bench(page: Page, address: str, said: list[str]) -> None:
    page.set_extra_http_headers({AS: "insp-1"})
    check(page, address, "CMM-1", "25.5")

    expect(page.locator(".c-refusal")).to_contain_text("Failed its check")
    page.goto(f"{address}/bench?scan=V-1")
    page.locator("select[data-gauge]").select_option("CMM-1")
    expect(page.locator("#bench-with-1-note")).to_contain_text("failed its check on MB-1")
    assert said == []

"""A furnace run in a browser: loaded by scan, started, given its readings, seen live."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from ringwright.ledger.service import Ledger
from ringwright.people.demo import make_demo_accounts
from tests.browser.test_bench import scan
from tests.heatruns.test_run_page import recorder
from tests.make.floor import CODE, MINUTE_US
from tests.make.furnaces import Hall, open_hall
from tests.make.signing import AS

pytestmark = pytest.mark.browser


@pytest.fixture
def hall(sqlite_url: str) -> Iterator[Hall]:
    """A furnace that may be loaded, and two blades that wait for it."""
    found = open_hall(sqlite_url)
    found.ready()
    found.waiting("S-1", "S-2")
    yield found
    found.floor.ledger.store.close()


@pytest.fixture
def ledger(hall: Hall) -> Ledger:
    """What is served."""
    make_demo_accounts(hall.floor.ledger, CODE, ["maker-1"])
    return hall.floor.ledger


def pressed(page: Page, name: str | re.Pattern[str]) -> None:
    """Press a button that leads to another page."""
    with page.expect_event("load"):
        page.get_by_role("button", name=name).click()


def test_a_run_is_loaded_by_scan_started_and_given_its_readings(
    page: Page, address: str, hall: Hall, said: list[str], tmp_path: Path
) -> None:
    run = hall.open()
    page.set_extra_http_headers({AS: "maker-1"})
    page.goto(f"{address}/furnace/runs/{run}")
    expect(page.locator("#scan")).to_be_focused()

    for serial in ("S-1", "S-2"):
        with page.expect_event("load"):
            scan(page, serial)
        expect(page.locator("#run-done")).to_have_text(f"{serial} lies in")
    expect(page.locator("#run-positions li").first).to_contain_text("S-1")
    pressed(page, "Start the cycle with 2 parts")
    expect(page.locator("h1")).to_contain_text("no readings yet")

    hall.started_s = (hall.run(run).started_us or 0) / 1e6
    hall.floor.clock.at_us += 50 * MINUTE_US
    file = tmp_path / "rec.csv"
    file.write_text(recorder(hall, minutes=50), encoding="utf-8")
    page.set_input_files("#run-file", file)
    pressed(page, "Look at it")
    expect(page.locator("h1")).to_have_text("Choose its columns and units")
    for field, choice in (
        ("column-at", "Clock"), ("column-tc1-c", "Zone 1"), ("column-tc2-c", "Zone 2"),
        ("unit-temperature", "°C"),
    ):  # fmt: skip
        page.select_option(f"#{field}", label=choice)
    pressed(page, "Show what it says")
    expect(page.locator("h1")).to_contain_text("51 samples can be kept")
    pressed(page, f"Keep them with {run}")

    expect(page.locator("#run-done")).to_have_text("51 samples kept")
    expect(page.locator("#run-trace path.c-trace__line")).to_have_count(2)
    assert said == []


def test_the_page_of_a_run_goes_on_by_itself_and_keeps_what_is_typed(
    page: Page, address: str, hall: Hall, said: list[str]
) -> None:
    run = hall.open()
    hall.load(run, "S-1")
    hall.start(run)
    page.set_extra_http_headers({AS: "maker-1"})
    page.goto(f"{address}/furnace/runs/{run}")
    expect(page.locator("body")).to_have_class(re.compile("is-live"))
    page.get_by_text("Break the cycle off").click()
    page.locator("#run-reason").fill("power is going")

    hall.keep(run, hall.trace(minutes=80))

    expect(page.locator("#run-trace path.c-trace__line").first).to_be_visible(timeout=20_000)
    expect(page.locator("h1")).to_contain_text("in form")
    expect(page.locator("#run-reason")).to_have_value("power is going")
    pressed(page, "Break it off")
    expect(page.locator("h1")).to_contain_text("Broken off")
    assert said == []

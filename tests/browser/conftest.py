"""The application served on a port, and Debian's Chromium to look at it."""

from __future__ import annotations

from collections.abc import Iterator
from shutil import which

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from ringwright.ledger.service import Ledger
from tests.browser.serving import served
from tests.make import shop

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """One browser a module; while it lives, no other event loop can run in this thread."""
    program = which("chromium") or which("chromium-browser")
    assert program, "Chromium is missing; ./check installs it where it may"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=list(FLAGS))
        yield browser
        browser.close()


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    """The small shop's record."""
    record = shop.open_shop(sqlite_url)
    yield record
    record.store.close()


@pytest.fixture
def address(sqlite_url: str, ledger: Ledger) -> Iterator[str]:
    """Where the small shop's pages are served."""
    with served(sqlite_url, ledger) as where:
        yield where


@pytest.fixture
def said(page: Page) -> list[str]:
    """What the browser complains of: errors and broken policy; a test expects it empty."""
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    return complaints


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """A reader far from the plant: the browser's own zone and language are others."""
    context = chromium.new_context(
        viewport={"width": 1366, "height": 768}, timezone_id="Asia/Tokyo", locale="en-US"
    )
    yield context.new_page()
    context.close()

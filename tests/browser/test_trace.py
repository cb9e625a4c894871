"""A whole containment by keyboard alone, in a browser: asked, previewed, contained, cleared."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from ringwright.ledger.service import Ledger
from ringwright.parts.queries import read_part
from tests.make.signing import AS
from tests.trace.works import CODE, open_works

pytestmark = pytest.mark.browser


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    """The small works: five plates went through furnace INF-1."""
    works = open_works(sqlite_url)
    yield works.ledger
    works.ledger.store.close()


def focus(page: Page, name: str, most: int = 80) -> None:
    """Press Tab until the focus is on what bears that name; never the mouse."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate(NAMED) == name:
            return
    raise AssertionError(f"Tab never came to {name!r}")


NAMED = """() => {
  const here = document.activeElement;
  const label = here.labels?.[0]?.textContent ?? here.textContent ?? "";
  return label.trim();
}"""


def types(page: Page, text: str) -> None:
    """Type as a person does; quicker it would be a scan."""
    page.keyboard.type(text, delay=60)


def press(page: Page, name: str) -> None:
    """Go to a button or link by Tab and press Enter."""
    focus(page, name)
    page.keyboard.press("Enter")


def held(ledger: Ledger, serial: str) -> Any:
    with ledger.read(CODE) as read:
        return read_part(read, serial).hold


def test_a_furnace_is_contained_and_cleared_by_keyboard_alone(
    page: Page, address: str, ledger: Ledger, said: list[str]
) -> None:
    page.set_extra_http_headers({AS: "qe-1"})
    page.goto(f"{address}/trace")
    focus(page, "Station")
    types(page, "INF-1")
    focus(page, "Since")
    types(page, "the beginning")
    press(page, "Show what it touched")
    expect(page.locator("h1")).to_contain_text("INF-1 touched 5 blades: 3 are here, none held")

    press(page, "See what containing does")
    expect(page.locator("h1")).to_contain_text("nothing is done yet")
    expect(page.get_by_text("qe-1 acts.")).to_be_visible()
    focus(page, "What is wrong")
    types(page, "survey failed")
    press(page, "Contain these 5 parts")
    expect(page.locator("h1")).to_contain_text("C-1: 3 held here, 1 notice not sent")
    assert "survey failed" in str(held(ledger, "A-4"))

    focus(page, "To whom")
    types(page, "test stand 2")
    press(page, "Record for all 1")
    expect(page.locator("h1")).to_contain_text("1 notice sent")
    focus(page, "A-4")
    page.keyboard.press("Space")
    focus(page, "Why they may go on")
    types(page, "measured sound")
    press(page, "Clear those ticked")
    expect(page.locator("h1")).to_contain_text("2 held here")
    assert held(ledger, "A-4") is None
    assert held(ledger, "A-3") is not None
    assert said == []


@pytest.mark.parametrize("width", [1366, 834, 390])
@pytest.mark.parametrize(
    "path", ["/trace", "/trace?station=INF-1", "/trace/contain?station=INF-1", "/parts/A-3"]
)
def test_no_page_is_wider_than_its_screen(
    page: Page, address: str, path: str, width: int, said: list[str]
) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(f"{address}{path}")

    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert said == []


def test_a_page_that_stands_open_shows_a_containment_made_elsewhere(
    page: Page, address: str, ledger: Ledger
) -> None:
    works_page = f"{address}/trace?station=INF-1"
    page.goto(works_page)
    expect(page.locator(".c-live--live")).to_be_visible()
    other = page.context.new_page()
    other.set_extra_http_headers({AS: "qe-1"})
    other.goto(f"{address}/trace/contain?station=INF-1")
    other.fill("#contain-reason", "survey failed")
    other.get_by_role("button", name="Contain these 5 parts").click()

    expect(page.locator("h1")).to_contain_text("3 are here and held", timeout=10_000)
    assert held(ledger, "A-3")

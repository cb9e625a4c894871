"""The Yield page in a browser: a manager's question answered by keyboard alone."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from ringwright.ledger.service import Ledger
from tests.make.floor import Floor
from tests.yields.conftest import make_fans

pytestmark = pytest.mark.browser

WEEKS = "/yield?product=FAN&first=2026-W38&last=2026-W40"
ANSWER = "#yield-answer"
REACH = 60
"""Stops of the tab key within which a link of the page must be reached."""


@pytest.fixture
def ledger(sqlite_floor: Floor) -> Ledger:
    """The shop whose third furnace load went wrong."""
    return make_fans(sqlite_floor).ledger


def tab_to(page: Page, name: str) -> None:
    """Go on by the tab key until the link of that name has the focus."""
    for _ in range(REACH):
        page.keyboard.press("Tab")
        said = page.evaluate("document.activeElement.textContent.trim().replace(/\\s+/g, ' ')")
        if said == name:
            return
    raise AssertionError(f"{name!r} is not reached within {REACH} stops")


def test_the_bad_load_is_left_out_and_put_back_by_keyboard(
    page: Page, said: list[str], address: str
) -> None:
    page.goto(address + WEEKS)
    expect(page.locator(ANSWER)).to_contain_text("Inflate causes 3 of 3 scrapped")

    tab_to(page, "Redraw without it")
    page.keyboard.press("Enter")
    expect(page.locator(ANSWER)).to_contain_text("Without load F-1")
    expect(page.locator(ANSWER)).to_contain_text("20 of 20 were released")

    tab_to(page, "Put it back")
    page.keyboard.press("Enter")
    expect(page.locator(ANSWER)).to_contain_text("22 of 25 were released")
    assert said == []


def test_a_steps_chart_is_reached_and_back_leads_back(page: Page, address: str) -> None:
    page.goto(address + WEEKS)

    tab_to(page, "30 Measure")
    page.keyboard.press("Enter")
    expect(page.locator("#yield-chart-name")).to_have_text("Measure, week by week")
    expect(page).to_have_url(re.compile("step=30"))

    page.go_back()
    expect(page.locator("#yield-chart-name")).to_have_text("Final yield, week by week")
    page.go_forward()
    expect(page.locator("#yield-chart-name")).to_have_text("Measure, week by week")


def test_other_weeks_are_chosen_by_keyboard(page: Page, address: str) -> None:
    page.goto(address + "/yield?product=FAN")
    page.locator("#yield-choose > summary").focus()
    page.keyboard.press("Enter")
    page.locator("#yield-first").fill("2026-W38")
    page.locator("#yield-last").fill("2026-W40")
    page.keyboard.press("Enter")

    expect(page.locator(ANSWER)).to_contain_text("22 of 25 were released")


@pytest.mark.parametrize("width", [390, 834, 1366])
def test_rows_of_names_bars_and_figures_stay_level(
    page: Page, address: str, width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 844})
    page.goto(address + WEEKS)

    middles = page.evaluate(
        """() => ['.c-ladder__names > li', '.c-ladder__bars circle', '.c-ladder__figures > li']
        .map((which) => [...document.querySelectorAll(which)].map((e) => {
          const box = e.getBoundingClientRect(); return box.top + box.height / 2; }))"""
    )

    names, dots, figures = middles
    assert len(names) == len(dots) == len(figures) == 4
    for row in zip(names, dots, figures, strict=True):
        assert max(row) - min(row) < 2, row

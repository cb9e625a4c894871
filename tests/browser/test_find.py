"""Find in a browser: the head line, deep links, Back and forward, by keyboard alone."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser


def test_a_scan_on_any_page_opens_the_part(page: Page, address: str, said: list[str]) -> None:
    page.goto(f"{address}/week")
    page.keyboard.type("V-004", delay=5)
    page.keyboard.press("Enter")

    page.wait_for_url(re.compile("V-004"))
    assert "/find" not in page.url
    assert said == []


def test_back_and_forward_keep_what_was_looked_for(
    page: Page, address: str, said: list[str]
) -> None:
    page.goto(f"{address}/find")
    page.keyboard.press("/")
    page.locator("#find-q").fill("V-")
    page.keyboard.press("Enter")
    page.wait_for_url(f"{address}/find?q=V-")
    page.get_by_role("link", name="V-002").press("Enter")
    page.wait_for_url(re.compile("V-002"))

    page.go_back()
    expect(page.locator("#find-q")).to_have_value("V-")
    expect(page.get_by_role("heading", level=1)).to_have_text("4 things begin with V-")
    page.go_back()
    expect(page.locator("#find-q")).to_have_value("")
    page.go_forward()
    expect(page.get_by_role("heading", level=1)).to_have_text("4 things begin with V-")
    assert said == []


def test_a_deep_link_is_the_same_page_for_somebody_else(page: Page, address: str) -> None:
    page.goto(f"{address}/find?q=insp")

    expect(page.get_by_role("heading", name="People, 1")).to_be_visible()
    expect(page.get_by_role("link", name="insp-1")).to_be_visible()

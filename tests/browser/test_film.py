"""A radiograph in a browser: two presses measure, the arrow keys change the level."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from ringwright.ledger.service import Ledger
from tests.make.films import FILM, attach_film
from tests.make.floor import CODE, Floor

pytestmark = pytest.mark.browser


@pytest.fixture
def ledger(sqlite_floor: Floor) -> Ledger:
    """A blade with a radiograph of 64 by 48 pixels, drawn ten times as wide, twenty as high."""
    sqlite_floor.book("create", "O-1")
    attach_film(sqlite_floor.ledger, CODE, "O-1")
    return sqlite_floor.ledger


def test_two_presses_measure_and_an_arrow_key_changes_the_level(
    page: Page, said: list[str], address: str
) -> None:
    page.goto(f"{address}/attachments/{FILM.digest}/view?part=O-1")
    light = page.locator("[data-film-light]")
    box = light.bounding_box()
    assert box is not None
    for column, row in ((10, 10), (40, 30)):
        x, y = (column + 0.5) / 64 * box["width"], (row + 0.5) / 48 * box["height"]
        light.click(position={"x": x, "y": y})
        page.wait_for_url(re.compile(f"x={column}&.y={row}"))

    expect(page.locator("h1")).to_have_text("From A to B: 5.0 ± 0.2 mm (36.1 px)")
    page.keyboard.press("ArrowUp")
    page.wait_for_url(re.compile("level=2457"))
    page.keyboard.press("+")
    expect(page.get_by_label("Columns shown")).to_have_value("32")
    assert said == []

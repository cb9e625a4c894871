"""The weld map of a ring is one sheet of paper, on either size that shops print on."""

from __future__ import annotations

import io

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

from tests.browser.serving import served
from tests.make.welds import open_weld_shop

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_weld_map_is_printed_on_one_page(page: Page, sqlite_url: str, paper: str) -> None:
    shop = open_weld_shop(sqlite_url)
    shop.welded("R-1")
    shop.film("R-1", "F1")
    with served(sqlite_url, shop.floor.ledger) as where:
        answer = page.goto(f"{where}/case/welds/R-1")
        assert answer is not None
        assert answer.status == 200
        sheets = PdfReader(io.BytesIO(page.pdf(format=paper))).pages

    assert len(sheets) == 1
    words = sheets[0].extract_text()
    assert "clockwise" in words
    assert "Drawn" in words
    shop.floor.ledger.store.close()

"""Labels and route cards as they come out of the printer, read by a reader of other hands.

Source: ISO/IEC 16022 (Data Matrix, ECC 200), read with zxing-cpp, which shares nothing with
what draws the symbols.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Page, expect

from ringwright.core.clock import SystemClock
from ringwright.ledger.service import Ledger
from tests.make.bench import ground_parts, open_bench
from tests.make.signing import AS

pytestmark = pytest.mark.browser

SERIALS = ("V-1", "V-2", "HB-4015/A", "0012345678", "V-ABCDEFGHIJKLMNOPQRSTUVWXYZ-3")


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    history = ground_parts(*SERIALS).replace("2026-10-01", "2026-09-30")
    record = open_bench(sqlite_url, SystemClock(), history)
    yield record
    record.store.close()


@pytest.fixture
def reader(page: Page, address: str, said: list[str]) -> Iterator[Page]:
    """The page that an inspector prints from; its browser complains of nothing."""
    page.set_extra_http_headers({AS: "insp-1"})
    page.goto(f"{address}/bench/labels")
    yield page
    assert said == []


def read_all(page: Page) -> list[str]:
    """What a reader finds on the paper, on white, at the size it is printed."""
    page.emulate_media(media="print")
    sheet = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("L")
    found = zxingcpp.read_barcodes(sheet)
    assert {one.format for one in found} <= {zxingcpp.BarcodeFormat.DataMatrix}
    return sorted(one.text for one in found)


def scan(page: Page, text: str) -> None:
    """A scanner: a burst of keys and Enter, into whatever has the focus."""
    page.keyboard.type(text, delay=3)
    page.keyboard.press("Enter")


@pytest.mark.parametrize("what", ["labels", "route-cards"])
def test_every_symbol_on_the_paper_says_its_serial(
    reader: Page, address: str, what: str
) -> None:
    reader.goto(f"{address}/bench/{what}")
    reader.focus("#print-parts")
    for serial in SERIALS:
        scan(reader, serial)
    assert reader.input_value("#print-parts").split() == list(SERIALS)
    reader.get_by_role("button", name="Show them").click()
    expect(reader.locator("svg.c-datamatrix")).to_have_count(len(SERIALS))

    assert read_all(reader) == sorted(SERIALS)


def test_labels_stand_where_the_sheet_has_them(reader: Page, address: str) -> None:
    reader.goto(f"{address}/bench/labels?parts=V-1%0AV-2&used=2")
    reader.emulate_media(media="print")

    places = [reader.locator(".c-label").nth(n).bounding_box() for n in (0, 1)]
    mm = 96 / 25.4
    assert places[0]
    assert places[1]
    assert places[0]["width"] == pytest.approx(70 * mm, abs=1)
    assert places[0]["height"] == pytest.approx(37 * mm, abs=1)
    assert places[0]["x"] == pytest.approx(140 * mm, abs=1)  # the third place of the first row
    assert places[1]["x"] == pytest.approx(0, abs=1)
    pdf = reader.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == 1


def test_each_route_card_begins_a_page_and_a_full_sheet_holds_24_labels(
    reader: Page, address: str
) -> None:
    reader.goto(f"{address}/bench/route-cards?parts=V-1%0AV-2%0AHB-4015/A")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", reader.pdf())) == 3


def test_what_is_no_part_is_said_and_the_others_are_printed(reader: Page, address: str) -> None:
    reader.goto(f"{address}/bench/labels?parts=V-1%0ANOPE")

    expect(reader.locator("main")).to_contain_text("there is no part NOPE")
    expect(reader.locator(".c-label")).to_have_count(1)


@pytest.mark.parametrize("where", ["/week", "/floor", "/sets", "/gauges", "/bench/labels"])
@pytest.mark.parametrize("typed", ["V-2", "]d1V-2", "]d2010950600013435221V-2"])
def test_a_label_scanned_on_any_page_opens_its_part(
    reader: Page, address: str, where: str, typed: str
) -> None:
    reader.goto(f"{address}{where}")
    scan(reader, typed)

    reader.wait_for_url("**/parts/V-2")

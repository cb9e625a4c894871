"""A practice site for everybody's eyes: its mark stays in sight and takes nothing from text.

Sources: W3C WCAG 2.2 as axe-core tests it, with 7:1 for all text (1.4.6) over the watermark
too; CSS Paged Media Module Level 3 for the margins of a printed page. Targets of 44 px are this
project's own rule.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from ringwright.assembly import SYSTEM
from ringwright.ground.practice import open_practice
from tests.browser.seeing import SIZES, Scheme, arm, choose, found_at, see, show
from tests.browser.serving import served
from tests.make import states

pytestmark = pytest.mark.browser

REAL, CODE = states.CODE, f"{states.CODE}-PRACTICE"
HERE = f"site={CODE}"
PAGES = ("/week", "/floor", "/bench?scan=B-904", "/ground", "/sets", "/bench/cards", "/find")
PAIRS: tuple[tuple[str, Scheme], ...] = (("desk", "light"), ("phone", "dark"))


@pytest.fixture(scope="module")
def practised(
    _sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """Where a works is served in whose practice site everything has happened."""
    store = shutil.copy(_sqlite_template, tmp_path_factory.mktemp("site") / "store.sqlite")
    url = f"sqlite:///{store}"
    record = states.open_empty(url)
    open_practice(record, None, None, 0, SYSTEM)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(states, "CODE", CODE)
        states.tell_states(record)
    with served(url, record) as where:
        yield where
    record.store.close()


@pytest.fixture
def page(chromium: Browser, practised: str) -> Iterator[Page]:
    context = chromium.new_context(timezone_id="Asia/Tokyo", locale="en-US")
    opened = context.new_page()
    choose(opened, practised)
    yield opened
    context.close()


def there(practised: str, path: str) -> str:
    return f"{practised}{path}{'&' if '?' in path else '?'}{HERE}"


def in_sight(page: Page, name: str) -> bool:
    """True when all of an element lies on the screen as it is scrolled now."""
    box = page.locator(name).bounding_box()
    size = page.viewport_size
    assert size is not None
    return bool(box and box["y"] >= 0 and box["y"] + box["height"] <= size["height"] + 0.5)


@pytest.mark.parametrize("path", PAGES)
def test_nothing_is_lost_to_the_watermark(page: Page, practised: str, path: str) -> None:
    complaints: list[str] = []
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    see(page, there(practised, path))
    arm(page)

    assert [trouble for one in PAIRS for trouble in found_at(page, *one)] == []
    assert complaints == []


@pytest.mark.parametrize("path", PAGES)
def test_the_bands_stay_in_sight_however_far_one_scrolls(
    page: Page, practised: str, path: str
) -> None:
    see(page, there(practised, path))
    for size in SIZES:
        show(page, size, "light")
        for far in (0, 0.5, 1):
            page.evaluate("(far) => scrollTo(0, far * document.body.scrollHeight)", far)
            assert in_sight(page, ".c-practice--top"), (size, far)
            assert in_sight(page, ".c-practice--end"), (size, far)
            covers = page.locator(".c-watermark").bounding_box()
            assert covers is not None
            assert (covers["x"], covers["y"]) == (0, 0)


def test_the_wall_bears_the_band_without_growing(page: Page, practised: str) -> None:
    """A wall is a screen of 1920 x 1080 that nobody scrolls."""
    page.set_viewport_size({"width": 1920, "height": 1080})
    heights = []
    for site in (CODE, REAL):
        page.goto(f"{practised}/floor/wall?site={site}")
        heights.append(page.evaluate("document.documentElement.scrollHeight"))
    page.goto(there(practised, "/floor/wall"))

    assert in_sight(page, ".c-practice--top")
    size = page.locator(".c-practice--top b").evaluate(
        "(one) => getComputedStyle(one).fontSize"
    )
    assert float(size.removesuffix("px")) >= 32
    assert heights[0] <= max(1080, heights[1])


def test_on_paper_the_mark_stands_on_every_page(page: Page, practised: str) -> None:
    """The sheet is fixed, so the browser repeats it; the margins say it in words."""
    see(page, there(practised, "/floor"))
    page.emulate_media(media="print")

    mark = page.locator(".c-watermark").evaluate(
        "(one) => [getComputedStyle(one).position, getComputedStyle(one).printColorAdjust]"
    )
    margins = page.evaluate(
        """() => [...document.styleSheets].flatMap(sheet => [...sheet.cssRules])
            .flatMap(rule => rule.cssRules ? [rule, ...rule.cssRules] : [rule])
            .filter(rule => rule.constructor.name === "CSSPageRule")
            .map(rule => rule.cssText).join(" ")"""
    )
    assert mark == ["fixed", "exact"]
    assert "PRACTICE" in margins
    assert page.locator(".c-practice--top").is_visible()
    assert not page.locator(".c-practice--end").is_visible()

"""Whole jobs by keyboard alone, and where the focus goes on every page.

Sources: W3C WCAG 2.2, criteria 2.1.1 (keyboard), 2.1.2 (no trap), 2.4.7 (focus visible) and
2.4.11 (focus not obscured).
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlalchemy import select

from ringwright.ledger.service import Ledger
from ringwright.parts.queries import PartCard, read_events, read_part
from ringwright.sites.tables import CarrierStay
from tests.browser.seeing import LIKE_ROWS, PAGES, choose, look, sampled, see, show
from tests.browser.serving import served
from tests.make import furnaces, states

pytestmark = pytest.mark.browser

MOST_TABS = 300
NAMED = """() => {
  const here = document.activeElement;
  const label = here.labels?.[0]?.textContent ?? here.innerText;
  return (here.getAttribute("aria-label") ?? label).replace(/\\s+/g, " ").trim();
}"""


@pytest.fixture(scope="module")
def record(
    _sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[str, Ledger]]:
    """A works in which everything has happened, and its record."""
    store = shutil.copy(_sqlite_template, tmp_path_factory.mktemp("keys") / "store.sqlite")
    ledger = states.open_states(f"sqlite:///{store}")
    furnaces.tell_runs(ledger, states.CODE)
    with served(f"sqlite:///{store}", ledger) as where:
        yield where, ledger
    ledger.store.close()


@pytest.fixture(scope="module")
def works(record: tuple[str, Ledger]) -> str:
    """Where the works is served."""
    return record[0]


@pytest.fixture(scope="module")
def ledger(record: tuple[str, Ledger]) -> Ledger:
    """Its record."""
    return record[1]


@pytest.fixture(scope="module")
def keys(chromium: Browser, works: str) -> Iterator[Page]:
    """A page of the supervisor at Bench 4, whose mouse nobody touches from here on."""
    context = chromium.new_context(viewport={"width": 1366, "height": 768})
    page = context.new_page()
    choose(page, works)
    yield page
    context.close()


def to(page: Page, name: str) -> None:
    """Press Tab until the focus is on what bears that name."""
    passed = []
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        here = page.evaluate(NAMED)
        if here == name:
            return
        passed.append(here[:40])
    raise AssertionError(f"Tab never came to {name!r}, but to {passed[-40:]}")


def press(page: Page, name: str, key: str = "Enter") -> None:
    """Go to a button or link by Tab and press it."""
    to(page, name)
    page.keyboard.press(key)


def types(page: Page, text: str) -> None:
    """Type as a person does; quicker it would be a scan."""
    page.keyboard.type(text, delay=50)


def part(ledger: Ledger, serial: str) -> PartCard:
    with ledger.read(states.CODE) as read:
        return read_part(read, serial)


def last_kind(ledger: Ledger, serial: str) -> str:
    with ledger.read(states.CODE) as read:
        return str(read_events(read, serial)[-1].kind)


def test_a_part_is_passed_at_the_bench_by_keyboard(
    keys: Page, works: str, ledger: Ledger
) -> None:
    keys.goto(f"{works}/bench")
    types(keys, "B-908")
    keys.keyboard.press("Enter")
    expect(keys.locator("#bench-serial")).to_have_text("B-908")

    press(keys, "Begin 30 Wall check")
    expect(keys.locator(".c-strip-news")).to_contain_text("Begun")
    to(keys, "wall")
    types(keys, "1.45")
    to(keys, "twist")
    types(keys, "1.5")
    press(keys, "Pass to 40 Release")

    expect(keys.locator("#bench-after")).to_have_text("B-908")
    assert part(ledger, "B-908").step == 40
    assert last_kind(ledger, "B-908") == "end"


def test_a_part_is_held_by_keyboard(keys: Page, works: str, ledger: Ledger) -> None:
    keys.goto(f"{works}/bench?scan=B-904")
    press(keys, "Hold")
    to(keys, "Why")
    types(keys, "wet from the wash")
    press(keys, "Hold it")

    expect(keys.locator("#bench")).to_contain_text("quarantine")
    assert part(ledger, "B-904").hold == "wet from the wash"


def test_a_week_is_published_by_keyboard(keys: Page, works: str) -> None:
    keys.goto(f"{works}/week?week=2026-W38&product=BLADE")
    press(keys, "Publish week 38, Hollow blade")

    expect(keys.locator(".c-published")).to_contain_text("published, edition 1")


def test_a_trolley_is_moved_by_keyboard(keys: Page, works: str, ledger: Ledger) -> None:
    keys.goto(f"{works}/floor/move")
    types(keys, "TR-1")
    keys.keyboard.press("Enter")
    expect(keys.locator("#move-things")).to_contain_text("TR-1")
    types(keys, "W1")
    keys.keyboard.press("Enter")

    expect(keys.locator("#move-answer")).to_have_text("1 thing lies at W1 now.")
    with ledger.store.read() as connection:
        places = list(connection.execute(select(CarrierStay.place)).scalars())
    assert "W1" in places


def test_a_lot_is_contained_by_keyboard(keys: Page, works: str, ledger: Ledger) -> None:
    keys.goto(f"{works}/trace")
    press(keys, "Lot")  # opens the choice
    to(keys, "Lot")
    types(keys, "L-3")
    press(keys, "Show what it touched")
    expect(keys.locator("h1")).to_contain_text("L-3 touched 9 blades")
    press(keys, "See what containing does")
    expect(keys.locator("h1")).to_contain_text("nothing is done yet")
    to(keys, "What is wrong")
    types(keys, "melt out of grade")
    press(keys, "Contain these 9 parts")

    expect(keys.locator("h1")).to_contain_text("C-2")
    assert "melt out of grade" in str(part(ledger, "B-905").hold)


def test_a_serial_is_found_and_the_way_back_is_the_same_page(keys: Page, works: str) -> None:
    keys.goto(f"{works}/week?week=2026-W39&product=BLADE")
    keys.keyboard.press("/")
    types(keys, "B-00")
    keys.keyboard.press("Enter")
    expect(keys.locator("#group-part")).to_be_visible()
    press(keys, "B-003")
    expect(keys.locator("h1")).to_contain_text("B-003")

    keys.go_back()  # Alt and the left arrow are the browser's own, which has no window here
    expect(keys.locator("#find-q")).to_have_value("B-00")
    keys.go_back()

    expect(keys).to_have_url(f"{works}/week?week=2026-W39&product=BLADE")


def test_the_first_stop_leads_past_the_head(keys: Page, works: str) -> None:
    keys.goto(f"{works}/week")
    press(keys, "Go to the page")
    keys.keyboard.press("Tab")

    assert keys.evaluate("document.getElementById('main').contains(document.activeElement)")


@pytest.mark.parametrize("path", sampled(PAGES, 6))
def test_tab_leads_everywhere_and_the_focus_is_seen(keys: Page, works: str, path: str) -> None:
    found = []
    for size in ("desk", "phone"):
        show(keys, size, "light")
        see(keys, works + path)
        look(keys, "keepRows", LIKE_ROWS)
        look(keys, "fromTheTop")
        found += [f"{size}: {trouble}" for trouble in _walked(keys)]
    show(keys, "desk", "light")

    assert found == []


def _walked(page: Page) -> list[str]:
    """What is wrong at each stop of Tab, and what it never comes to."""
    found = []
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        stop = page.evaluate("looks.onFocus()")
        found += stop["wrong"]
        if stop["done"]:
            return found + look(page, "unreached")
    return [*found, f"no end of stops after {MOST_TABS}"]

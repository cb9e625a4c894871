"""The Floor in a browser: a wall that goes stale and comes back, a move without a mouse."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from ringwright.floor import asked as asking
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from ringwright.web.serving import Serving
from tests.floor.cell import Cell, open_cell
from tests.make.signing import AS, open_to_readers

pytestmark = pytest.mark.browser

STALE_S = 70
"""Two missed refreshes of thirty seconds, and a little."""


class Server:
    """The pages at one port, which can go away and come back."""

    def __init__(self, url: str, cell: Cell) -> None:
        self.url, self.cell = url, cell
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        """Serve, as after a restart."""
        app = create_app(Settings(database_url=self.url), self.cell.ledger)
        open_to_readers(app)
        self.server = Serving(app, self.port)
        self.thread = threading.Thread(target=self.server.run)
        self.thread.start()
        while not self.server.started:
            time.sleep(0.02)

    def stop(self) -> None:
        """Go away."""
        self.server.should_exit = True
        self.thread.join(10)


@pytest.fixture
def cell(sqlite_url: str) -> Iterator[Cell]:
    """Two parts that wait for the furnace."""
    opened = open_cell(sqlite_url)
    opened.cleaned("A", "B")
    yield opened
    opened.ledger.store.close()


@pytest.fixture
def server(sqlite_url: str, cell: Cell) -> Iterator[Server]:
    """The cell's pages."""
    serving = Server(sqlite_url, cell)
    yield serving
    serving.stop()


def test_a_wall_says_stale_and_comes_back_after_a_restart_with_nobody_there(
    page: Page, server: Server, cell: Cell
) -> None:
    page.clock.install()
    page.goto(f"{server.address}/floor/wall")
    expect(page.locator("#wall-answer")).to_have_text("2 blades: none late, none held")
    expect(page.locator("#wall-stale")).to_be_hidden()

    server.stop()
    for _ in range(STALE_S // 10):
        page.clock.run_for(10_000)
    expect(page.locator("#wall-stale")).to_be_visible()
    expect(page.locator("#wall-stale")).to_contain_text("STALE")

    cell.book("hold", "A", reason="lot in doubt")
    server.start()
    page.clock.run_for(11_000)

    expect(page.locator("#wall-answer")).to_have_text("2 blades: 1 held")
    expect(page.locator("#wall-stale")).to_be_hidden()
    # The stream is taken up again too, without anybody's help.
    for _ in range(12):
        page.clock.run_for(10_000)
        if "is-live" in (page.locator("body").get_attribute("class") or ""):
            break
        page.wait_for_timeout(100)
    assert "is-live" in (page.locator("body").get_attribute("class") or "")


def test_a_wall_whose_machine_slept_says_stale_until_it_has_asked(
    page: Page, server: Server
) -> None:
    page.clock.install()
    page.goto(f"{server.address}/floor/wall")
    expect(page.locator("#wall-stale")).to_be_hidden()
    server.stop()

    page.clock.fast_forward(40_000)

    expect(page.locator("#wall-stale")).to_be_visible()
    server.start()
    page.clock.run_for(12_000)
    expect(page.locator("#wall-stale")).to_be_hidden()


def test_a_wall_outlives_a_refusal_while_the_store_is_away(
    page: Page, server: Server, cell: Cell
) -> None:
    page.clock.install()
    page.goto(f"{server.address}/floor/wall")
    wrong = {"status": 404, "body": "<p id=lost>no site yet</p>", "content_type": "text/html"}
    page.route("**/floor/wall*", lambda route: route.fulfill(**wrong))
    page.clock.run_for(11_000)
    page.wait_for_timeout(200)
    page.unroute("**/floor/wall*")
    cell.book("hold", "A", reason="lot in doubt")

    page.clock.run_for(11_000)

    expect(page.locator("#wall-answer")).to_have_text("2 blades: 1 held")
    expect(page.locator("#lost")).to_have_count(0)


def test_a_wall_loads_itself_anew_when_the_server_runs_other_page_code(
    page: Page, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    page.goto(f"{server.address}/floor/wall")
    page.evaluate("window.before = true")
    old = page.locator("#wall-sheet").get_attribute("data-code")

    server.stop()
    asking.page_code.cache_clear()
    monkeypatch.setattr("ringwright.floor.pages.page_code", lambda: "newer")
    server.start()

    expect(page.locator("#wall-sheet")).to_have_attribute("data-code", "newer", timeout=30_000)
    expect(page.locator("#wall-answer")).to_be_visible()
    page.wait_for_load_state()
    assert page.evaluate("window.before") is None
    assert old != "newer"


def test_a_wall_keeps_its_words_large_and_within_the_screen(page: Page, server: Server) -> None:
    page.set_viewport_size({"width": 1920, "height": 1080})
    page.goto(f"{server.address}/floor/wall")

    small = page.evaluate(
        """() => [...document.querySelectorAll("#wall-sheet *")].filter((e) =>
          e.checkVisibility() && !e.closest(".u-hidden, title, desc, defs")
          && [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim())
          && (parseFloat(getComputedStyle(e).fontSize) < 32))
          .map((e) => e.outerHTML.slice(0, 90))"""
    )
    bottom = page.evaluate(
        "document.getElementById('wall-stuck').getBoundingClientRect().bottom"
    )

    assert small == []
    assert bottom <= 1080


def test_a_part_is_moved_by_the_keyboard_alone(
    page: Page, server: Server, cell: Cell, said: list[str]
) -> None:
    cell.move("B", to="RACK-1")
    page.set_extra_http_headers({AS: "maker-1"})
    page.goto(f"{server.address}/floor")
    page.get_by_role("link", name="Move by scan").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#scan")).to_be_focused()
    page.keyboard.type("A")
    page.keyboard.press("Enter")
    expect(page.locator("#move-things")).to_contain_text("A")
    expect(page.locator("#scan")).to_be_focused()
    page.keyboard.type("RACK-1")
    page.keyboard.press("Enter")

    expect(page.locator("#move-answer")).to_have_text("1 thing lies at RACK-1 now.")
    assert cell.here("A").whereabouts == ("RACK-1",)
    assert said == []


def test_three_scans_by_a_scanner_move_two_parts(
    page: Page, server: Server, cell: Cell
) -> None:
    cell.move("B", to="RACK-1")
    page.set_extra_http_headers({AS: "maker-1"})
    page.goto(f"{server.address}/floor/move")
    # A scanner types into whatever has the focus.
    for place, text in enumerate(("A", "B", "RACK-1")):
        expect(page.locator("#move-things tbody tr")).to_have_count(place)
        page.evaluate("document.activeElement.blur()")
        page.keyboard.type(text, delay=3)
        page.keyboard.press("Enter")

    expect(page.locator("#move-answer")).to_have_text("2 things lie at RACK-1 now.")
    assert cell.here("B").whereabouts == ("RACK-1",)


def test_the_floor_turns_on_a_narrow_screen(page: Page, server: Server) -> None:
    page.goto(f"{server.address}/floor")
    expect(page.locator("#floor-line")).to_be_visible()
    expect(page.locator("#floor-turned")).to_be_hidden()

    page.set_viewport_size({"width": 390, "height": 844})

    expect(page.locator("#floor-turned")).to_be_visible()
    expect(page.locator("#floor-line")).to_be_hidden()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390

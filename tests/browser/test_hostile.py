"""Every page in a real browser, with hostile names in it: nothing runs, nothing is fetched.

Sources: OWASP ASVS 5.0.0, 1.2.1, 3.2.2, 3.4.3, 3.4.6; W3C Content Security Policy Level 3.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Dialog, Page, Request

from tests.browser.seeing import PAGES, SAMPLES, page_paths
from tests.browser.serving import served
from tests.make import states
from tests.make.hostile import LOT, PRODUCT, SCRIPTS, SERIALS, open_hostile

pytestmark = pytest.mark.browser

VALUES = {"serial": SERIALS[3], "product": PRODUCT, "revision": "1", "code": "C-1"}


class Watchful:
    """A page, and what it ran, fetched and complained of."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address = page, address
        self.found: list[str] = []
        page.on("dialog", self._dialog)
        page.on("request", self._request)
        page.on("console", lambda said: self._said(said.type, said.text))
        page.on("pageerror", lambda error: self.found.append(f"error {error}"))
        page.add_init_script("window.hostile = (n) => console.error(`hostile ran ${n}`)")
        page.add_init_script(
            "addEventListener('securitypolicyviolation', (e) =>"
            " console.error(`policy ${e.violatedDirective} ${e.blockedURI}`))"
        )

    def _dialog(self, dialog: Dialog) -> None:
        self.found.append(f"dialog {dialog.message}")
        dialog.dismiss()

    def _request(self, request: Request) -> None:
        if not request.url.startswith((self.address, "data:")):
            self.found.append(f"request {request.url}")

    def _said(self, kind: str, text: str) -> None:
        # A page that is not there says so in its status; the browser repeats that.
        if kind == "error" and not re.search(r"status of 4\d\d", text):
            self.found.append(text)

    def visit(self, path: str) -> list[str]:
        """What a page did once everything of it was loaded and touched."""
        self.found.clear()
        self.page.goto(self.address + path, wait_until="load")
        self.page.evaluate(
            "document.querySelectorAll('details').forEach((d) => { d.open = true; })"
        )
        self.page.wait_for_timeout(60)
        return [f"{path}: {trouble}" for trouble in self.found]


def watched(browser: Browser, address: str) -> Watchful:
    return Watchful(browser.new_context().new_page(), address)


@pytest.fixture(scope="module")
def works(_sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the works is served in which every name is hostile."""
    store = shutil.copy(_sqlite_template, tmp_path_factory.mktemp("hostile") / "store.sqlite")
    record = open_hostile(f"sqlite:///{store}")
    with served(f"sqlite:///{store}", record) as where:
        yield where
    record.store.close()


@pytest.fixture(scope="module")
def harmless(_sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a works is served in which everything has happened."""
    store = shutil.copy(_sqlite_template, tmp_path_factory.mktemp("states") / "store.sqlite")
    record = states.open_states(f"sqlite:///{store}")
    with served(f"sqlite:///{store}", record) as where:
        yield where
    record.store.close()


def test_what_is_planted_is_found(chromium: Browser, works: str) -> None:
    watch = watched(chromium, works)
    watch.visit("/week")

    watch.page.evaluate(
        """document.body.insertAdjacentHTML("beforeend",
          "<img src='//evil.example/x.png'><p style='color:red'>a</p>");
        window.hostile(1); alert(1);"""
    )
    watch.page.wait_for_timeout(200)
    told = " ".join(watch.found)

    assert "dialog 1" in told
    assert "hostile ran 1" in told
    assert "policy img-src" in told
    assert "policy style-src" in told


def test_every_page_keeps_the_policy_and_asks_nobody_else(
    chromium: Browser, harmless: str
) -> None:
    watch = watched(chromium, harmless)
    paths = [path for path in PAGES if SAMPLES["set_code"] not in path]

    found = [trouble for path in paths for trouble in watch.visit(path)]

    assert len(paths) > 20
    assert found == []


def test_no_hostile_name_runs_on_any_page(chromium: Browser, works: str) -> None:
    watch = watched(chromium, works)
    quoted = {name: quote(value, safe="") for name, value in VALUES.items()}
    paths = page_paths(quoted)
    paths += [f"/trace?lot={quote(LOT, safe='')}", f"/sets?product={quoted['product']}"]
    paths += [f"/ground?kind=station&code={quote(text, safe='')}" for text in SCRIPTS[::9]]

    found = [trouble for path in paths for trouble in watch.visit(path)]

    assert len(paths) > 30
    assert found == []


@pytest.mark.parametrize("page", ["/find?q=", "/bench?scan=", "/week?product=", "/parts/"])
def test_no_hostile_text_asked_for_runs(chromium: Browser, works: str, page: str) -> None:
    watch = watched(chromium, works)

    found = [t for text in SCRIPTS[::3] for t in watch.visit(page + quote(text, safe=""))]

    assert found == []

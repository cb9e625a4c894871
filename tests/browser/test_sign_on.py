"""A person signs on by the shop's server in Chromium, which holds forms to their own site."""

from __future__ import annotations

import socket
import threading
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from ringwright.core.clock import SystemClock
from ringwright.ledger.service import Ledger
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from ringwright.web.serving import Serving
from tests.make.sign_on import make_account

pytestmark = pytest.mark.browser


@contextmanager
def served_with(url: str, ledger: Ledger, issuer: str, secret: Path) -> Iterator[str]:
    """The address of the pages, with that sign-on server."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    settings = Settings(
        database_url=url,
        address=address,
        sign_on_issuer=issuer,
        sign_on_client="shop-pages",
        sign_on_secret_file=secret,
        sign_on_name="the works",
    )
    server = Serving(create_app(settings, ledger), port)
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        yield address
    finally:
        server.should_exit = True
        thread.join(10)


@pytest.fixture
def address(sqlite_url: str, ledger: Ledger, tmp_path: Path) -> Iterator[str]:
    """The small shop's pages; insp-1 is worker-7 at a sign-on server that others wrote."""
    ledger.clock = SystemClock()
    make_account(ledger, "insp-1", "worker-7")
    secret = tmp_path / "secret"
    secret.write_text("told-to-nobody")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        from oidc_provider_mock import run_server_in_thread

        with (
            run_server_in_thread(require_nonce=True) as running,
            served_with(
                sqlite_url, ledger, f"http://localhost:{running.server_port}", secret
            ) as where,
        ):
            yield where


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_the_button_leads_to_the_server_and_back_to_the_page_that_was_wanted(
    page: Page, address: str, said: list[str]
) -> None:
    page.goto(f"{address}/floor?view=late")
    page.get_by_role("button", name="Sign in by the works").click()
    page.wait_for_url("http://localhost:*/oauth2/authorize?*")

    page.get_by_placeholder("sub").fill("worker-7")
    page.get_by_role("button", name="Authorize").click()

    page.wait_for_url(f"{address}/floor?view=late")
    page.goto(f"{address}/account")
    expect(page.get_by_role("main")).to_contain_text("insp-1")
    assert of_our_pages(said) == []


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_the_page_on_the_way_has_a_link_and_whoever_is_unknown_is_told(
    page: Page, address: str, said: list[str]
) -> None:
    page.goto(f"{address}/sign-in")
    page.route("http://localhost:*/**", lambda route: route.abort())
    with page.expect_response("**/sign-in/on") as answer:
        page.get_by_role("button", name="Sign in by the works").click()
    way = answer.value.header_value("refresh") or ""
    page.unroute_all()

    page.goto(way.removeprefix("0; url="))
    page.get_by_placeholder("sub").fill("stranger")
    page.get_by_role("button", name="Authorize").click()

    expect(page.get_by_role("alert")).to_contain_text("no open account here is stranger")
    assert of_our_pages(said) == []


def of_our_pages(said: list[str]) -> list[str]:
    """Without what the other server's pages lack: its style sheet and its mark."""
    return [text for text in said if not text.startswith("Failed to load resource")]

"""A small shop whose people sign on by a server of their own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from ringwright.ledger.service import Ledger
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make import shop
from tests.make.provider import CLIENT, SECRET, Server, serving
from tests.make.sign_on import ADDRESS, Browser, make_account


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    """The small shop's record; its insp-1 is worker-7 at the sign-on server."""
    record = shop.open_shop(sqlite_url, history="")
    make_account(record, "insp-1", "worker-7")
    yield record
    record.store.close()


@pytest.fixture
def server(ledger: Ledger) -> Iterator[Server]:
    """The sign-on server; its clock is the record's."""
    with serving(Server(now_s=ledger.clock.now_us() // 1_000_000)) as one:
        yield one


@pytest.fixture
def browser_of(
    sqlite_url: str, ledger: Ledger, server: Server, tmp_path: Path
) -> Callable[..., Browser]:
    """Makes browsers on an application with settings of a test's own."""
    secret = tmp_path / "secret"
    secret.write_text(SECRET + "\n")

    def make(**settings: Any) -> Browser:
        given: dict[str, Any] = {
            "sign_on_issuer": server.issuer,
            "sign_on_client": CLIENT,
            "sign_on_secret_file": secret,
            "sign_on_name": "the works' server",
            "address": ADDRESS,
            **settings,
        }
        app = create_app(Settings(database_url=sqlite_url, **given), ledger)
        return Browser(TestClient(app, ADDRESS, follow_redirects=False), server)

    return make


@pytest.fixture
def browser(browser_of: Callable[..., Browser]) -> Browser:
    """A browser on the shop's pages."""
    return browser_of()

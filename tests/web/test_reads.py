"""Reading changes nothing, whatever is asked for (OWASP ASVS 5.0.0, 1.2.4, 3.5.3, 16.5.1)."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from urllib.parse import quote, urlencode

import pytest
from starlette.routing import Route
from starlette.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.ledger.service import Ledger
from ringwright.settings import Settings
from ringwright.sites.service import SetGroundRule
from ringwright.sites.site import Person
from ringwright.web.factory import create_app, room_routers
from tests.make import shop
from tests.make.hostile import SQL
from tests.make.whole import digest_of_store
from tests.web.test_every_page import SAMPLES

ENDLESS = {"live.stream"}
"""Answers that never end by themselves."""


def reads() -> list[Route]:
    """Every route that is read, pages, files and API."""
    routes = [r for router in room_routers() for r in router.routes if isinstance(r, Route)]
    return [r for r in routes if "GET" in (r.methods or ()) and r.name not in ENDLESS]


def filled(path: str, values: dict[str, str]) -> str:
    """A route's path with its places filled."""
    return re.sub(r"\{(\w+)[^}]*\}", lambda m: quote(values.get(m[1], "x"), safe=""), path)


@pytest.fixture
def ledger(new_store_url: Callable[[], str]) -> Iterator[Ledger]:
    """The small shop's record, on either store."""
    record = shop.open_shop(new_store_url())
    yield record
    record.store.close()


@pytest.fixture
def client(ledger: Ledger) -> TestClient:
    """A browser that may take as many files as it likes."""
    url = ledger.store.engine.url.render_as_string(hide_password=False)
    app = create_app(Settings(database_url=url, exports_a_minute=10_000), ledger)
    return TestClient(app, follow_redirects=False, raise_server_exceptions=False)


def test_there_is_much_to_read() -> None:
    assert len(reads()) > 40


def test_the_digest_sees_a_change(ledger: Ledger) -> None:
    before = digest_of_store(ledger.store)
    ledger.execute(
        "NORD", SetGroundRule(thing=Person(code="p", roles=("maker",)), key=None), SYSTEM
    )

    assert digest_of_store(ledger.store) != before


def test_no_get_changes_anything_whatever_its_address_holds(
    client: TestClient, ledger: Ledger
) -> None:
    """Each route as it stands, with known things, and with hostile texts in every field."""
    before = digest_of_store(ledger.store)
    broken: list[tuple[str, int]] = []
    for route in reads():
        values = {**SAMPLES, "form": "csv", "set": "VANE-S001", "run": "r-1"}
        asked = [(filled(route.path, values), "")]
        for place, text in enumerate(SQL):
            names = _names(route)
            query = urlencode(
                {name: SQL[(place + n) % len(SQL)] for n, name in enumerate(names)}
            )
            asked.append(
                (filled(route.path, dict.fromkeys(route.param_convertors, text)), query)
            )
        for path, query in asked:
            for method in ("GET", "HEAD"):
                answer = client.request(method, f"{path}?{query}")
                if answer.status_code >= 500:
                    broken.append((f"{method} {path}?{query}", answer.status_code))

    assert broken == []
    assert digest_of_store(ledger.store) == before


def _names(route: Route) -> list[str]:
    """The fields that a route reads from its address, and those that pages read themselves."""
    dependant = getattr(route, "dependant", None)
    named: list[str] = []
    waiting = [dependant] if dependant else []
    while waiting:
        one = waiting.pop()
        named += [field.alias for field in one.query_params]
        waiting += one.dependencies
    usual = ["as_of", "product", "code", "slot", "done", "lost", "open", "scan", "subject"]
    return list(dict.fromkeys([*named, *usual]))[:20]

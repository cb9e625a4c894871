"""What another site's page can do here: nothing, on any route.

Sources: OWASP ASVS 5.0.0, 3.4.2 (no CORS), 3.5.1, 3.5.2, 3.5.3; W3C Fetch Metadata.
"""

from __future__ import annotations

import pytest
from fastapi import FastAPI
from starlette.routing import Route
from starlette.testclient import TestClient

from ringwright.ledger.service import Ledger
from ringwright.web.factory import room_routers
from tests.make.whole import digest_of_store

FOREIGN = (
    {"Origin": "https://elsewhere.example"},
    {"Origin": "null"},
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
    {"Origin": "http://testserver", "Sec-Fetch-Site": "cross-site"},
    {"Origin": "https://elsewhere.example", "Authorization": "Bearer x"},
)
SIMPLE = ("application/x-www-form-urlencoded", "multipart/form-data; boundary=b", "text/plain")
"""What a page may send anywhere without asking first (Fetch standard, CORS-safelisted)."""


def unsafe_routes() -> list[tuple[str, str]]:
    """(method, path) of every route that is not merely read, found by asking the rooms."""
    routes = [r for router in room_routers() for r in router.routes if isinstance(r, Route)]
    return sorted(
        (method, route.path)
        for route in routes
        for method in (route.methods or ())
        if method not in ("GET", "HEAD", "OPTIONS")
    )


UNSAFE = unsafe_routes()


def test_the_rooms_have_unsafe_routes() -> None:
    assert len(UNSAFE) > 20
    assert ("POST", "/bench/acts/{serial:path}") in UNSAFE


@pytest.mark.parametrize(("method", "path"), UNSAFE, ids=lambda part: part)
def test_a_foreign_page_is_refused_and_changes_nothing(
    app: FastAPI, ledger: Ledger, method: str, path: str
) -> None:
    client = TestClient(app, follow_redirects=False, cookies={"who": "insp-1"})
    before = digest_of_store(ledger.store)

    told = [
        client.request(method, path, headers={**foreign, "Content-Type": kind}, content=b"a=b")
        for foreign in FOREIGN
        for kind in SIMPLE
    ]

    assert {answer.status_code for answer in told} == {403}
    assert all("set-cookie" not in answer.headers for answer in told)
    assert digest_of_store(ledger.store) == before


@pytest.mark.parametrize("path", ["/week", "/api/week", "/live", "/static/mark.svg", "/no"])
def test_no_other_site_s_script_may_read_an_answer(client: TestClient, path: str) -> None:
    asks = {"Origin": "https://elsewhere.example", "Access-Control-Request-Method": "POST"}

    for method in ("OPTIONS", "HEAD"):
        answer = client.request(method, path, headers=asks)
        allowed = [name for name in answer.headers if name.startswith("access-control-")]
        assert allowed == []
        assert answer.headers["cross-origin-resource-policy"] == "same-origin"

"""What every answer carries, and who may send an unsafe request (Fetch Metadata, CSP 3)."""

from __future__ import annotations

import pytest
from fastapi import FastAPI
from starlette.datastructures import Headers
from starlette.testclient import TestClient

from ringwright.web.security import comes_from_here


@pytest.mark.parametrize("path", ["/week", "/healthz", "/no-such-page", "/static/mark.svg"])
def test_every_answer_carries_the_policy(client: TestClient, path: str) -> None:
    headers = client.get(path).headers

    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


@pytest.mark.parametrize("path", ["/week", "/api/week", "/no", "/static/mark.svg", "/healthz"])
def test_over_tls_browsers_are_told_to_keep_to_it_for_a_year(app: FastAPI, path: str) -> None:
    """OWASP ASVS 5.0.0, 3.4.1: a year at least, with every name below."""
    secure = TestClient(app, base_url="https://testserver").get(path).headers
    plain = TestClient(app).get(path).headers

    assert secure["strict-transport-security"] == "max-age=31536000; includeSubDomains"
    assert "strict-transport-security" not in plain


@pytest.mark.parametrize("path", ["/week", "/api/week", "/no", "/healthz", "/week/file.csv"])
def test_nothing_but_static_files_is_kept_and_no_device_is_given(
    client: TestClient, path: str
) -> None:
    headers = client.get(path, headers={"Origin": "https://elsewhere.example"}).headers

    assert headers["cache-control"] == "no-store"
    assert headers["permissions-policy"] == "camera=(), geolocation=(), microphone=()"
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert not [name for name in headers if name.startswith("access-control-")]
    told = headers["content-type"]
    assert told.startswith("application/json") or "charset=utf-8" in told


def test_pages_are_kept_by_nobody_and_named_files_for_a_year(client: TestClient) -> None:
    assert client.get("/week").headers["cache-control"] == "no-store"
    assert "immutable" in client.get("/static/mark.svg?v=1").headers["cache-control"]
    assert client.get("/static/mark.svg").headers["cache-control"] == "no-cache"


@pytest.mark.parametrize(
    ("sent", "here"),
    [
        ({"sec-fetch-site": "same-origin"}, True),
        ({"sec-fetch-site": "none"}, True),
        ({"sec-fetch-site": "same-site"}, False),
        ({"sec-fetch-site": "cross-site"}, False),
        ({"origin": "http://shop:8321"}, True),
        ({"origin": "http://evil:8321"}, False),
        ({"origin": "null"}, False),
        ({"origin": "http://shop:8321.evil"}, False),
        ({"origin": "http://evil:8321", "sec-fetch-site": "same-origin"}, False),
        ({"origin": "http://evil:8321", "authorization": "Bearer t"}, False),
        ({"authorization": "Bearer t", "sec-fetch-site": "cross-site"}, False),
        ({}, False),
    ],
)
def test_an_unsafe_request_comes_from_here_or_is_refused(
    sent: dict[str, str], here: bool
) -> None:
    assert comes_from_here(Headers({"host": "shop:8321", **sent}), "/bench/station") is here


def test_a_program_without_a_page_reaches_the_api_and_its_token_check_only() -> None:
    bare = Headers({"host": "shop:8321"})

    assert comes_from_here(bare, "/api/bookings")
    assert not comes_from_here(bare, "/bench/station")
    assert not comes_from_here(Headers({"origin": "http://evil:8321"}), "/api/bookings")


@pytest.mark.parametrize("path", ["/week", "/api/bookings", "/no-such-page"])
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_a_foreign_page_can_send_nothing(client: TestClient, path: str, method: str) -> None:
    answer = client.request(method, path, headers={"Origin": "https://elsewhere.example"})

    assert answer.status_code == 403
    if path.startswith("/api/"):
        assert set(answer.json()) == {"error", "detail"}

"""What every answer carries, and who may send an unsafe request (Fetch Metadata, CSP 3)."""

from __future__ import annotations

import pytest
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

"""What an answer tells of the program when something goes wrong: nothing.

Sources: OWASP ASVS 5.0.0, 13.4.4 (TRACE), 13.4.6 (versions), 16.5.1, 16.5.2, 16.5.3, 16.5.4.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from fastapi import FastAPI
from sqlalchemy import event
from sqlalchemy.exc import OperationalError
from starlette.testclient import TestClient

from ringwright.ledger.service import Ledger
from tests.make.html import read
from tests.make.listening import ask, listening, say
from tests.web.test_every_page import PAGES

INSIDES = re.compile(
    r"Traceback|File \"|\.py\b|site-packages|SELECT|INSERT|sqlalchemy|sqlite|psycopg|uvicorn"
    r"|starlette|fastapi|pydantic|python/|/usr/|/tmp/|line \d+, in|0x[0-9a-f]{6}",
    re.IGNORECASE,
)
HERE = {"Origin": "http://testserver"}


@pytest.fixture
def port(app: FastAPI) -> Iterator[int]:
    """Where the small shop listens."""
    with listening(app) as found:
        yield found


@pytest.fixture
def away(app: FastAPI, ledger: Ledger) -> Iterator[TestClient]:
    """A browser while the database refuses every statement."""

    def refuse(*_: object) -> None:
        raise OperationalError("SELECT secret FROM event", {}, Exception("/srv/ring.sqlite"))

    client = TestClient(app, follow_redirects=False, raise_server_exceptions=False)
    event.listen(ledger.store.engine, "before_cursor_execute", refuse)
    yield client
    event.remove(ledger.store.engine, "before_cursor_execute", refuse)


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/no-such-page", 404),
        ("GET", "/parts/none", 404),
        ("GET", "/static/../settings.py", 404),
        ("GET", "/static/%2e%2e/settings.py", 404),
        ("GET", "/static/css", 404),
        ("GET", "/data/ringwright.sqlite", 404),
        ("GET", "/.git/config", 404),
        ("GET", "/api/no-such", 404),
        ("DELETE", "/week", 405),
        ("PUT", "/api/bookings", 405),
        ("GET", "/week?week=x", 422),
        ("GET", "/api/week?week=x", 401),
        ("POST", "/api/bookings", 401),
    ],
)
def test_a_refusal_tells_no_insides(
    client: TestClient, method: str, path: str, status: int
) -> None:
    answer = client.request(method, path, headers=HERE)

    assert answer.status_code == status
    assert INSIDES.search(answer.text) is None, answer.text


@pytest.mark.parametrize("path", ["/fail", "/api/fail"])
def test_a_fault_tells_no_insides_and_carries_the_policy(app: FastAPI, path: str) -> None:
    def fail() -> None:
        raise RuntimeError("SELECT secret FROM /srv/store.sqlite")

    app.get(path)(fail)
    answer = TestClient(app, raise_server_exceptions=False).get(path)

    assert answer.status_code == 500
    assert INSIDES.search(answer.text) is None
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    "path", [*sorted(set(PAGES) - {"/bench/cards"}), "/week/file.csv", "/readyz"]
)
def test_without_its_record_a_page_shows_nothing_and_says_so(
    away: TestClient, path: str
) -> None:
    """The act cards are printed from no record."""
    answer = away.get(path)

    assert answer.status_code == 503
    assert INSIDES.search(answer.text) is None
    if path != "/readyz":
        assert int(answer.headers["retry-after"]) > 0
        assert len(read(answer.text).tags("h1")) == 1


def test_without_its_record_nobody_is_let_in_and_nothing_is_said_to_be_booked(
    away: TestClient,
) -> None:
    order = {"key": "k", "act": "create", "serial": "V-9", "product": "VANE"}

    booked = away.post("/api/bookings", json=order, headers={"Authorization": "Bearer x"})
    acted = away.post("/bench/acts/V-001", data={"act": "begin"}, headers=HERE)

    assert booked.status_code == acted.status_code == 503
    assert set(booked.json()) == {"error", "detail"}
    assert "Nothing was booked." not in acted.text


@pytest.mark.parametrize("method", ["TRACE", "CONNECT", "PROPFIND", "FOO"])
@pytest.mark.parametrize("path", ["/week", "/api/bookings", "/static/mark.svg"])
def test_methods_that_nothing_here_uses_are_refused(
    client: TestClient, method: str, path: str
) -> None:
    answer = client.request(method, path, headers={"X-Echo": "hunter2", **HERE})

    assert answer.status_code == 405
    assert "hunter2" not in answer.text
    assert "GET" in answer.headers["allow"]


def test_trace_and_connect_are_refused_on_the_wire(port: int) -> None:
    for line in (b"TRACE /week HTTP/1.1", b"CONNECT evil.example:443 HTTP/1.1"):
        heard = say(
            port,
            line
            + b"\r\nHost: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\nConnection: close\r\n\r\n",
        )
        assert heard.split(b" ")[1] == b"405", heard[:100]


def test_no_answer_names_the_server_s_software(port: int) -> None:
    answers = [ask(port, "GET", path) for path in ("/week", "/no", "/static/mark.svg")]

    for answer in answers:
        assert answer.getheader("server") is None
        assert answer.getheader("x-powered-by") is None
        assert not any(INSIDES.search(value) for _, value in answer.getheaders())

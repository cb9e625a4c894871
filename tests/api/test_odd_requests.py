"""What no document can say: bytes that are no text, numbers past all bounds, crooked headers.

On both stores, since each breaks on other things (PostgreSQL takes no NUL in a text, and
neither takes every integer). Every answer must be one that the document knows.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import count, product
from typing import Any, Final

import pytest
from fastapi import FastAPI
from httpx2 import Response
from starlette.testclient import TestClient

from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.api.fuzzing import wrong_with
from tests.make.spoken import open_spoken

BOOKING: Final = '{"key":"k","act":"measure","serial":"B-1042","step":10,%s}'
BODIES: Final = [
    b"", b"null", b"[]", b'"x"', b"{", b"\xff", b"\xef\xbb\xbf{}", '{"key":1}'.encode("utf-16"),
    b"[" * 100_000, b'{"a":' * 100_000, b"1" * 5_000, b"-Infinity",
    *(
        (BOOKING % rest).encode()
        for rest in (
            '"value":NaN', '"value":-Infinity', '"value":1e999', '"value":1e308',
            f'"value":{"9" * 5_000}', f'"value":{"9" * 400}', '"step":1e999', '"step":10.5',
            f'"step":{2**63}', '"step":999999999', '"key":"\\ud800"', '"act":"\\udfff"',
            '"serial":"\\u0000"', '"reason":"a\\u0000b"', '"unit":"\\ud800\\ud800"',
            '"\\ud800":1', '"at":"\\ud800"', '"at":"9999-12-31T23:59:59-14:00"',
            '"lot":"\\u0000","at":"2026-10-01T10:00:00Z"', '"slots":["\\u0000","\\ud800"]',
            '"characteristic":"\\u0000","value":1,"unit":"mm"',
        )
    ),
    b'{"key":"k","product":"\\u0000","slots":["B-1009","B-1010"]}',
    b'{"key":"k","product":"HF22-BLADE","slots":["\\u0000","B-1010"]}',
    b'{"key":"k\\u0000","reason":"off"}',
    b'{"key":"k","reason":"o\\u0000ff"}',
]  # fmt: skip
ODD: Final = [
    "%00", "a%00b", "%ff", "%ed%a0%80", "%0a", "%1d", "%F0%9F%98%80", "%2e%2e", "+", "%25", "*",
    "%E2%80%AE", "x%2Fy", "a" * 5_000, "9" * 5_000, str(2**63), "-1", "%D9%A3", "1e400", "NaN",
    "0001-W01", "9999-W52", "1900-W01", "2199-W52", "0001-01-01T00:00:00%2B14:00",
    "9999-12-31T23:59:59Z", "1900-01-01T00:00:00Z", "2199-12-31T23:59:59Z",
]  # fmt: skip
HEADERS: Final[list[tuple[str, bytes]]] = [
    ("authorization", b"Bearer \xff\xfe"), ("authorization", b"Bearer"),
    ("authorization", b"Bearer \x00"), ("authorization", b"Bearer " + b"x" * 60_000),
    ("accept", b"\xff"), ("accept-language", b"\xff;q=nan, en;q=1e999"),
    ("accept-encoding", b"gzip;q=x"), ("cookie", b"a=\xff;;=;who=\x01"), ("host", b"[::"),
    ("origin", b"http://[::"), ("content-length", b"x"), ("range", b"bytes=9-1"),
    ("hx-request", b"true"), ("if-none-match", b"\xff"), ("x-http-method-override", b"DELETE"),
    ("content-type", b"application/json; charset=utf-16"), ("content-type", b"\xff/\x00"),
    ("content-type", b"multipart/form-data"), ("content-type", b"application/x+json"),
]  # fmt: skip


class Asker:
    """Asks every operation of the document with a token, in ways of its own."""

    def __init__(self, app: FastAPI, tokens: dict[str, str]) -> None:
        # A server answers a fault with 500; so does this client, instead of raising it.
        self.client = TestClient(app, raise_server_exceptions=False)
        self.tokens = tokens
        self.paths: dict[str, dict[str, Any]] = app.openapi()["paths"]
        self.asked = 0

    def operations(self, method: str) -> list[tuple[str, dict[str, Any]]]:
        """The operations under /api of that method, each with what the document tells."""
        found = [(path, told[method]) for path, told in self.paths.items() if method in told]
        return [(path, told) for path, told in found if path.startswith("/api/")]

    def ask(
        self, method: str, path: str, *, headers: list[tuple[str, bytes]], body: bytes = b""
    ) -> Response:
        """One request, its headers as bytes; the token stands first unless another is given."""
        self.asked += 1
        role = "planner" if "/sets" in path else "supervisor"
        own = [("authorization", f"Bearer {self.tokens[role]}".encode())]
        given = {name for name, _ in headers}
        sent = [pair for pair in own if pair[0] not in given] + headers
        raw = [(name.encode(), value) for name, value in sent]
        return self.client.request(method, path, content=body, headers=raw)


@pytest.fixture
def asker(store_url: str) -> Iterator[Asker]:
    ledger = open_spoken(store_url)
    tokens = {
        role: make_token(ledger.store, 1, role, None, ledger.clock.now_us())
        for role in ("supervisor", "planner")
    }
    yield Asker(create_app(Settings(database_url=store_url), ledger), tokens)
    ledger.store.close()


def fault(told: dict[str, Any], path: str, answer: Response) -> str:
    """What is wrong with an answer; "" where the document knows it."""
    if str(answer.status_code) not in told["responses"]:
        return f"{answer.status_code} is undocumented"
    return wrong_with(path, answer.status_code, answer.content)


def true_path(path: str) -> str:
    return path.replace("{serial}", "B-1042").replace("{set}", "HF22-S001")


JSON: Final = [("content-type", b"application/json")]


def test_no_body_breaks_an_operation(asker: Asker) -> None:
    found = [
        (path, body[:60], why)
        for (path, told), body in product(asker.operations("post"), BODIES)
        for answer in [asker.ask("POST", true_path(path), headers=JSON, body=body)]
        if (why := fault(told, path, answer))
    ]

    assert found == []
    assert asker.asked >= 3 * len(BODIES)


@pytest.mark.parametrize("of", [3, pytest.param(1, marks=pytest.mark.long)])
def test_no_word_in_an_address_breaks_an_operation(asker: Asker, of: int) -> None:
    """In a whole run each place meets every third word, and each word every third place."""
    found, turn = [], count()
    for path, told in asker.operations("get"):
        places = told.get("parameters", [])
        usual = {p["name"]: p["schema"]["examples"][0] for p in places if p["required"]}
        for place, odd in product(places, ODD):
            # The words are no multiple of three, so the next place meets other ones.
            if next(turn) % of:
                continue
            asked = usual | {"lot": "L-88"} if "/trace" in path else usual
            asked = {name: text for name, text in asked.items() if "{" + name not in path}
            asked[place["name"]] = odd
            at = path.replace("{" + place["name"] + "}", odd)
            query = "&".join(f"{n}={t}" for n, t in asked.items() if place["in"] == "query")
            answer = asker.ask("GET", f"{true_path(at)}?{query}", headers=[])
            if at.startswith(path) or answer.status_code >= 500:
                found += [why] if (why := fault(told, path, answer)) else []

    assert found == []
    assert asker.asked > 30 * len(ODD) // of


def test_no_header_breaks_an_operation(asker: Asker) -> None:
    found = []
    for method in ("get", "post"):
        for (path, told), header in product(asker.operations(method), HEADERS):
            body = json.dumps({"key": "k"}).encode() if method == "post" else b""
            kind = JSON if method == "post" and header[0] != "content-type" else []
            places = told.get("parameters", [])
            usual = {p["name"]: p["schema"]["examples"][0] for p in places if p["required"]}
            query = "&".join(f"{name}={text}" for name, text in usual.items())
            at = f"{true_path(path)}?{query}"
            answer = asker.ask(method.upper(), at, headers=[*kind, header], body=body)
            found += [(path, header, why)] if (why := fault(told, path, answer)) else []

    assert found == []
    assert asker.asked > 8 * len(HEADERS)

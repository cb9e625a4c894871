"""How much a request may hold: refused in words, never a fault of the server.

Sources: OWASP ASVS 5.0.0, 4.2.1, 5.2.1, 15.2.2, 15.3.7; RFC 9110, 4.1 (8000 octets of address),
15.5.14 (413), 15.5.15 (414); RFC 6585, 5 (431); RFC 8259, 4 and 9 (names of an object, depth).
"""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from ringwright.kit.forms import (
    MOST_BYTES,
    MOST_FIELDS,
    MOST_FILM_BYTES,
    REPEATED_IN_ADDRESS,
    REPEATED_IN_FORMS,
)
from ringwright.web.caps import MOST_DEPTH, MOST_JSON_BYTES, MOST_QUERY_BYTES
from tests.make.html import read
from tests.make.listening import listening, say
from tests.make.signing import AS
from tests.web.test_every_page import PAGES

HERE = {"Origin": "http://testserver"}


@pytest.fixture
def port(app: FastAPI) -> Iterator[int]:
    """Where the small shop listens."""
    with listening(app) as found:
        yield found


def head(method: str, path: str, *lines: str) -> bytes:
    """The head of a request as bytes."""
    own = ("Host: 127.0.0.1", "Origin: http://127.0.0.1", "Connection: close")
    return ("\r\n".join((f"{method} {path} HTTP/1.1", *own, *lines)) + "\r\n\r\n").encode()


def chunk(size: int) -> bytes:
    """One chunk of a body whose length was not told."""
    return f"{size:x}\r\n".encode() + b"a" * size + b"\r\n"


@pytest.mark.parametrize(
    ("path", "most"),
    [
        ("/ground/files", MOST_BYTES),
        ("/bench/acts/V-1", MOST_BYTES),
        ("/api/bookings", MOST_JSON_BYTES),
    ],
)
def test_a_body_that_says_it_is_too_large_is_not_read(port: int, path: str, most: int) -> None:
    heard = say(port, head("POST", path, f"Content-Length: {most + 1}"))

    assert heard.split(b" ")[1] == b"413"


def test_only_the_form_that_attaches_may_be_as_large_as_a_radiograph(port: int) -> None:
    parts = "Content-Type: multipart/form-data; boundary=b"
    for path, most in (("/ground/files", MOST_BYTES), ("/bench/acts/V-1", MOST_FILM_BYTES)):
        over = say(port, head("POST", path, parts, f"Content-Length: {most + 1}"))
        assert over.split(b" ")[1] == b"413"
        assert f"larger than {most // 1024 // 1024} MB".encode() in over


@pytest.mark.parametrize(
    ("path", "kind", "most"),
    [
        ("/ground/files", "application/x-www-form-urlencoded", MOST_BYTES),
        ("/api/bookings", "application/json", MOST_JSON_BYTES),
    ],
)
def test_a_body_that_does_not_say_how_large_it_is_is_stopped_where_it_is_too_large(
    port: int, path: str, kind: str, most: int
) -> None:
    chunked = head("POST", path, "Transfer-Encoding: chunked", f"Content-Type: {kind}")
    pieces = [chunk(1024 * 1024)] * (most // 1024 // 1024) + [chunk(10)]

    heard = say(port, chunked, *pieces, b"0\r\n\r\n")

    assert heard.split(b" ")[1] == b"413", heard[:200]
    assert b"larger than" in heard


def test_a_length_and_chunks_together_smuggle_nothing(port: int) -> None:
    """RFC 9112, 6.3: with both, the chunks count; the second request is no part of the body."""
    both = head("POST", "/api/bookings", "Transfer-Encoding: chunked", "Content-Length: 4")
    heard = say(port, both, b"0\r\n\r\n")

    assert heard.split(b" ")[1] in (b"400", b"401", b"422")
    assert heard.count(b"HTTP/1.1 ") == 1


@pytest.mark.parametrize("path", ["/week", "/api/week", "/no-such-page"])
def test_an_address_that_is_too_long_is_refused(client: TestClient, path: str) -> None:
    fits = client.get(f"{path}?x=" + "a" * (MOST_QUERY_BYTES - 2))
    over = client.get(f"{path}?x=" + "a" * (MOST_QUERY_BYTES - 1))

    assert fits.status_code != 414
    assert over.status_code == 414
    assert client.get(f"{path}?" + "&".join(f"a{n}=" for n in range(600))).status_code == 422


@pytest.mark.parametrize(
    "headers",
    [
        {f"X-{number}": "a" for number in range(100)},
        {"X-Long": "a" * 13_000},
        {"Cookie": "a" * 13_000},
    ],
)
def test_headers_too_many_or_too_long_are_refused(
    client: TestClient, headers: dict[str, str]
) -> None:
    assert client.get("/week", headers=headers).status_code == 431
    assert client.get("/api/week", headers=headers).json()["error"] == "headers"


def test_a_head_beyond_the_server_s_own_limit_is_hung_up_on(port: int) -> None:
    heard = say(port, head("GET", "/week", "X-Long: " + "a" * 300_000))

    assert heard.split(b" ")[1] in (b"400", b"431")


@pytest.mark.parametrize("name", ["Authorization", "Content-Type", "Origin", "Sec-Fetch-Site"])
def test_a_header_on_which_something_is_decided_stands_once(
    client: TestClient, name: str
) -> None:
    answer = client.get("/week", headers=[(name, "a"), (name, "b")])

    assert answer.status_code == 400
    assert name.lower() in answer.text


def test_a_form_of_too_many_fields_is_refused_in_words(client: TestClient) -> None:
    many = {f"field-{number}": "1" for number in range(MOST_FIELDS + 1)}
    files = {f"file-{number}": ("a.csv", b"a") for number in range(5)}

    for answer in (
        client.post("/ground/rules", data=many, headers=HERE),
        client.post("/ground/files", data={"kind": "route"}, files=files, headers=HERE),
    ):
        assert answer.status_code == 422
        assert "Too many" in answer.text


@pytest.mark.parametrize(
    "body",
    [
        "[" * 200_000,
        '{"a":' * 200_000,
        "[" * (MOST_DEPTH + 2) + "]" * (MOST_DEPTH + 2),
        '{"key":"k","serial":"V-001","serial":"V-002","act":"begin"}',
        '{"a":1,"b":[{"c":1,"c":2}]}',
        '{"key":' + "1" * 10_000 + "}",
        "\ufeff{}",
        "nul",
        "{",
    ],
    ids=lambda body: body[:12],
)
def test_json_that_is_too_deep_ambiguous_or_none_is_refused(
    client: TestClient, body: str
) -> None:
    answer = client.post(
        "/api/bookings", content=body, headers={"Content-Type": "application/json"}
    )

    # 401 comes first where what was sent can be read at all.
    assert answer.status_code in (400, 401, 422)
    assert set(answer.json()) == {"error", "detail"}


@pytest.mark.parametrize(
    ("body", "word"),
    [('{"serial":"V-001","serial":"V-002"}', "twice"), ("[" * 25 + "]" * 25, "deep")],
)
def test_what_is_wrong_with_json_is_said(client: TestClient, body: str, word: str) -> None:
    answer = client.post("/api/bookings", content=body)

    assert answer.status_code == 422
    assert word in answer.json()["detail"]


def test_json_as_deep_as_an_order_is_read(client: TestClient) -> None:
    order = {"key": "k", "act": "create", "serial": "V-9", "product": "VANE", "reason": "[[[{"}

    assert client.post("/api/bookings", content=json.dumps(order)).status_code == 401


@pytest.mark.parametrize("path", ["/week?product=VANE&product=", "/api/parts/V-001?a=1&a=2"])
def test_a_value_that_stands_twice_in_an_address_is_refused(
    client: TestClient, path: str
) -> None:
    answer = client.get(path)

    assert answer.status_code == 422
    assert "sent twice" in answer.text


@pytest.mark.parametrize("path", ["/week?product=V%00", "/parts/V%00", "/api/week?week=%00"])
def test_a_nul_in_an_address_is_refused(client: TestClient, path: str) -> None:
    """No text of PostgreSQL holds one: it would fail there."""
    asks = {} if path.startswith("/api/") else {AS: "insp-1"}
    assert client.get(path, headers=asks).status_code == 422
    sent = {"act": "seek", "serial": "V\x00"}
    told = client.post("/floor/search", data=sent, headers={**HERE, AS: "insp-1"})
    assert told.status_code == 422


def test_a_name_spelled_in_another_way_is_the_same_name(client: TestClient) -> None:
    assert client.get("/week?product=VANE&%70roduct=VANE").status_code == 422


@pytest.mark.parametrize(
    ("path", "fields"),
    [
        ("/floor/search", "act=seek&serial=V-001&serial=V-002&key=k"),
        ("/bench/station", "station=&station=B4&who=insp-1"),
        ("/ground/rules", "kind=person&code=a&code=b&roles=maker&roles=inspector"),
    ],
)
def test_a_field_that_is_read_once_is_refused_twice(
    client: TestClient, path: str, fields: str
) -> None:
    kind = {"Content-Type": "application/x-www-form-urlencoded"}

    who = {AS: "insp-1"} if path.startswith("/floor") else {}
    answer = client.post(path, content=fields, headers={**HERE, **kind, **who})

    assert answer.status_code == 422
    assert "sent twice" in answer.text


@pytest.mark.parametrize("path", PAGES)
def test_no_form_of_a_page_sends_one_value_twice(looked_at: TestClient, path: str) -> None:
    """What a browser sends of each form as drawn is what the server reads."""
    page = read(looked_at.get(path).text)
    for form, names in _forms(page.elements):
        many = REPEATED_IN_FORMS if form.get("method") == "post" else REPEATED_IN_ADDRESS
        twice = {name for name in names if names.count(name) > 1} - many
        assert twice == set(), (form, twice)


def _forms(
    elements: list[tuple[str, dict[str, str]]],
) -> list[tuple[dict[str, str], list[str]]]:
    """Each form with the names it sends; of radio buttons and buttons one is sent."""
    found: list[tuple[dict[str, str], list[str]]] = []
    for tag, attributes in elements:
        if tag == "form":
            found.append((attributes, []))
        sends = tag in ("input", "select", "textarea") and "name" in attributes
        if found and sends and attributes.get("type") != "radio":
            found[-1][1].append(attributes["name"])
    return found

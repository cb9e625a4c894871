"""The names that the server answers to: no other page's name reaches it (DNS rebinding).

Sources: RFC 9110, 15.5.20 (421 Misdirected Request); OWASP ASVS 5.0.0, 4.1.3 and 15.3.4 for
what a proxy says. That rebinding shows in the Host header is from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi import FastAPI, Request
from starlette.testclient import TestClient

from ringwright.core.errors import Refused
from ringwright.kit.address import client_address
from ringwright.ledger.service import Ledger
from ringwright.settings import Settings, read_settings
from ringwright.web import hosts
from ringwright.web.factory import create_app
from tests.make.listening import ask, listening, say
from tests.make.signing import open_to_readers


@pytest.fixture
def named(sqlite_url: str, ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> FastAPI:
    """The application as installed under a name; the tests' own name is no good here."""
    monkeypatch.setattr(hosts, "OWN_NAMES", ("localhost", "127.0.0.1", "[::1]"))
    settings = Settings(database_url=sqlite_url, hosts=("cell.example", "bench.example:8443"))
    return open_to_readers(create_app(settings, ledger))


@pytest.fixture
def port(named: FastAPI) -> Iterator[int]:
    """Where it listens."""
    with listening(named) as found:
        yield found


@pytest.mark.parametrize(
    ("host", "known"),
    [
        ("localhost:8321", True),
        ("127.0.0.1", True),
        ("[::1]:8321", True),
        ("cell.example", True),
        ("CELL.example:443", True),
        ("cell.example.:443", True),
        ("bench.example:8443", True),
        ("bench.example", False),
        ("bench.example:443", False),
        ("evil.example", False),
        ("cell.example.evil.example", False),
        ("evilcell.example", False),
        ("testserver", False),
        ("127.0.0.1.evil.example", False),
        ("localhost@evil.example", False),
        ("10.0.0.7", False),
        ("", False),
        ("cell.example\r\nX: y", False),
    ],
)
def test_only_a_listed_name_or_the_machine_s_own_is_answered(
    host: str, known: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hosts, "OWN_NAMES", ("localhost", "127.0.0.1", "[::1]"))

    assert hosts.answers_to(host, ("cell.example", "bench.example:8443")) is known


@pytest.mark.parametrize("path", ["/week", "/api/week", "/healthz", "/static/mark.svg", "/no"])
def test_a_foreign_name_gets_421_and_nothing_of_the_shop(named: FastAPI, path: str) -> None:
    client = TestClient(named, base_url="http://evil.example")

    answer = client.get(path)

    assert answer.status_code == 421
    assert len(answer.text) < 200
    assert "content-security-policy" in answer.headers
    if path.startswith("/api"):
        assert answer.json()["error"] == "host"


def test_a_listed_name_is_served_and_may_send_from_its_own_page(named: FastAPI) -> None:
    client = TestClient(named, base_url="https://cell.example", follow_redirects=False)
    own = {"Origin": "https://cell.example", "Sec-Fetch-Site": "same-origin"}

    assert client.get("/week").status_code == 200
    assert client.post("/bench/station", headers=own).status_code not in (403, 421)


def test_two_hosts_in_one_request_are_refused(port: int) -> None:
    hosts_of_two = b"Host: localhost\r\nHost: evil.example\r\nConnection: close\r\n\r\n"
    twice = b"GET /healthz HTTP/1.1\r\n" + hosts_of_two
    none = b"GET /healthz HTTP/1.0\r\n\r\n"

    assert say(port, twice).split(b" ")[1] == b"400"
    assert say(port, none).split(b" ")[1] == b"421"


def test_a_proxy_on_this_machine_names_the_client_and_tls(port: int) -> None:
    told = {"X-Forwarded-For": "10.0.0.7", "X-Forwarded-Proto": "https"}

    answer = ask(port, "GET", "/week", told)

    assert (
        answer.getheader("strict-transport-security") == "max-age=31536000; includeSubDomains"
    )
    assert ask(port, "GET", "/week").getheader("strict-transport-security") is None


@pytest.mark.parametrize(
    ("proxies", "forwarded", "seen"),
    [
        (("127.0.0.1",), "10.0.0.7", "10.0.0.7"),
        # The client's own claim stands before what the proxy added; the nearest counts.
        (("127.0.0.1",), "1.1.1.1, 10.0.0.7", "10.0.0.7"),
        (("127.0.0.1", "10.0.0.0/24"), "1.1.1.1, 10.0.0.7", "1.1.1.1"),
        (("192.0.2.1",), "10.0.0.7", "127.0.0.1"),
        (("127.0.0.1",), "2001:db8::7", "2001:db8::/64"),
        (("127.0.0.1",), "::ffff:10.0.0.7", "10.0.0.7"),
    ],
)
def test_the_address_is_the_real_one_and_only_a_trusted_proxy_names_it(
    sqlite_url: str, ledger: Ledger, proxies: tuple[str, ...], forwarded: str, seen: str
) -> None:
    app = create_app(Settings(database_url=sqlite_url, proxies=proxies), ledger)
    found: list[str] = []

    def whence(request: Request) -> None:
        found.append(client_address(request))

    app.get("/whence")(whence)

    with listening(app) as port:
        ask(port, "GET", "/whence", {"X-Forwarded-For": forwarded})

    assert found == [seen]


def test_hosts_and_proxies_are_read_from_the_environment() -> None:
    found = read_settings(
        {
            "RINGWRIGHT_HOSTS": "Cell.example, bench.example:8443",
            "RINGWRIGHT_PROXIES": "10.0.0.1,192.0.2.0/24",
            "RINGWRIGHT_EXPORTS_A_MINUTE": "7",
        }
    )

    assert found.hosts == ("cell.example", "bench.example:8443")
    assert found.proxies == ("10.0.0.1", "192.0.2.0/24")
    assert found.exports_a_minute == 7
    assert read_settings({}).proxies == ("127.0.0.1",)
    assert read_settings({}).hosts == ()


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("RINGWRIGHT_HOSTS", "*"),
        ("RINGWRIGHT_HOSTS", "https://cell.example"),
        ("RINGWRIGHT_PROXIES", "*"),
        ("RINGWRIGHT_PROXIES", "proxy.example"),
        ("RINGWRIGHT_EXPORTS_A_MINUTE", "0"),
        ("RINGWRIGHT_EXPORTS_A_MINUTE", "many"),
    ],
)
def test_a_setting_that_would_let_anybody_in_is_refused(name: str, value: str) -> None:
    with pytest.raises(Refused, match=name):
        read_settings({name: value})

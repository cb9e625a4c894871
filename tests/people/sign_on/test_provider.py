"""A sign-on server that is down, slow, odd or somebody else; and what may be set.

Sources: OpenID Connect Discovery 1.0, 4.3; OpenID Connect Core 1.0, 9; RFC 6749, 2.3.1 and 5.2.
"""

from __future__ import annotations

import base64
import gzip
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx2
import pytest

from ringwright.core.errors import Refused
from ringwright.ledger.service import Ledger
from ringwright.people import provider as module
from ringwright.people.provider import Outside, Provider, Unreachable, provider_of
from ringwright.settings import Settings, read_settings
from tests.make.provider import CLIENT, SECRET, Server
from tests.make.sign_on import ADDRESS, Browser
from tests.make.signing import signed_in

WELL_KNOWN = "/.well-known/openid-configuration"
GOOD = {
    "RINGWRIGHT_SIGN_ON_ISSUER": "https://sign-on.example/shop",
    "RINGWRIGHT_SIGN_ON_CLIENT": "shop-pages",
    "RINGWRIGHT_ADDRESS": "https://ringwright.example/",
}


def test_a_server_that_is_down_is_told_and_a_password_still_works(
    browser_of: Callable[..., Browser], ledger: Ledger
) -> None:
    browser = browser_of(sign_on_issuer="http://127.0.0.1:9")

    answer = browser.press()

    assert answer.status_code == 503
    assert "cannot be reached just now; a password still works" in answer.text
    assert 'name="password"' in browser.client.get("/sign-in").text
    assert signed_in(browser.client, ledger, "insp-1").get("/account").status_code == 200


def test_a_server_that_is_down_is_not_asked_again_at_once(server: Server) -> None:
    now = [0.0]
    server.documents = {WELL_KNOWN: (500, {}, b"")}
    provider = Provider(settings_of(server), lambda: now[0])

    for second in (0, 9, 11):
        now[0] = second
        with pytest.raises(Unreachable):
            provider.known()

    assert len(server.asked) == 2


def test_what_the_server_says_of_itself_is_read_again_after_an_hour(server: Server) -> None:
    now = [0.0]
    provider = Provider(settings_of(server), lambda: now[0])

    for second in (0, 3599, 3601):
        now[0] = second
        provider.known()

    assert [path for path, _, _ in server.asked] == [WELL_KNOWN, "/keys"] * 2


def test_a_slow_server_is_waited_for_but_not_for_long(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "TIMEOUT_S", 0.2)
    browser.server.slow_s = 1.0

    assert browser.press().status_code == 503


def test_a_slow_server_takes_few_of_our_threads(server: Server) -> None:
    provider = Provider(settings_of(server))
    for _ in range(module.AT_ONCE):
        assert provider._few.acquire(blocking=False)

    with pytest.raises(Unreachable, match="is busy"):
        provider.known()
    assert server.asked == []


@pytest.mark.parametrize(
    "says",
    [
        {"issuer": "https://other.example"},
        {"issuer": None},
        {"token_endpoint": "https://other.example/token"},
        {"token_endpoint": "http://127.0.0.1:9/token"},
        {"jwks_uri": "file:///etc/passwd"},
        {"jwks_uri": None},
        {"authorization_endpoint": "javascript:alert(1)"},
        {"authorization_endpoint": "https://other.example/authorize"},
    ],
    ids=str,
)
def test_a_server_that_sends_us_elsewhere_is_not_followed(
    browser: Browser, says: dict[str, Any]
) -> None:
    # Discovery 1.0, 4.3: the issuer must be the very one that was asked.
    browser.server.says = says

    assert browser.press().status_code == 503
    assert [path for path, _, _ in browser.server.asked] == [WELL_KNOWN]


class Drips(httpx2.SyncByteStream):
    """An answer that comes a letter at a time, each in time."""

    def __iter__(self) -> Iterator[bytes]:
        for _ in range(20):
            time.sleep(0.05)
            yield b" "


def test_an_answer_that_drips_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "TIMEOUT_S", 0.2)
    dripping = httpx2.MockTransport(lambda _: httpx2.Response(200, stream=Drips()))
    outside = Outside(("https", "sign-on.example", 443), dripping)

    with pytest.raises(httpx2.ReadTimeout):
        outside.handle_request(httpx2.Request("GET", "https://sign-on.example/keys"))


@pytest.mark.parametrize(
    "address",
    ["https://other.example/", "http://sign-on.example/", "https://sign-on.example:8443/"],
)
def test_no_other_place_is_asked_whatever_asks(address: str) -> None:
    asked: list[httpx2.Request] = []

    def answer(request: httpx2.Request) -> httpx2.Response:
        asked.append(request)
        return httpx2.Response(200)

    outside = Outside(("https", "sign-on.example", 443), httpx2.MockTransport(answer))

    with pytest.raises(httpx2.TransportError):
        outside.handle_request(httpx2.Request("GET", address))
    assert asked == []


@pytest.mark.parametrize("path", [WELL_KNOWN, "/keys", "/token"])
@pytest.mark.parametrize(
    ("status", "headers", "body"),
    [
        (200, {}, b"<html>"),
        (200, {}, b"[1]"),
        (200, {}, b"[" * 100_000),
        (200, {}, b'{"a": "' + b"x" * 300_000 + b'"}'),
        (200, {"Content-Encoding": "gzip"}, gzip.compress(b"{}")),
        (302, {"Location": "/elsewhere"}, b""),
        (500, {}, b"{}"),
    ],
    ids=["no-json", "a-list", "deep", "large", "packed", "redirect", "broken"],
)
def test_an_odd_answer_is_told_plainly(
    browser: Browser, path: str, status: int, headers: dict[str, str], body: bytes
) -> None:
    state = browser.begin()["state"] if path == "/token" else ""
    browser.server.documents = {path: (status, headers, body)}

    answer = browser.back(state) if state else browser.press()

    assert answer.status_code == 503
    assert "a password still works" in answer.text
    assert "/elsewhere" not in [asked for asked, _, _ in browser.server.asked]


def test_a_code_that_the_server_does_not_know_is_told(browser: Browser) -> None:
    browser.begin()
    browser.server.documents = {"/token": (400, {}, b'{"error": "invalid_grant"}')}

    answer = browser.sign_on()

    # RFC 6749, 5.2.
    assert answer.status_code == 401
    assert "invalid_grant" in answer.text


@pytest.mark.parametrize(
    ("taken", "header", "in_body"),
    [
        (None, True, False),
        (["client_secret_basic", "client_secret_post"], True, False),
        (["client_secret_post"], False, True),
    ],
)
def test_our_secret_goes_where_the_server_wants_it(
    browser: Browser, taken: list[str] | None, header: bool, in_body: bool
) -> None:
    browser.server.says = {"token_endpoint_auth_methods_supported": taken} if taken else {}

    browser.sign_on()

    _path, headers, body = browser.server.asked[-1]
    basic = "Basic " + base64.b64encode(f"{CLIENT}:{SECRET}".encode()).decode()
    # Core, 9; RFC 6749, 2.3.1.
    assert (headers.get("authorization") == basic, SECRET in body) == (header, in_body)


def test_who_has_no_secret_says_only_who_they_are(
    browser_of: Callable[..., Browser],
) -> None:
    browser = browser_of(sign_on_secret_file=None)

    assert browser.sign_on().status_code == 303
    _path, headers, body = browser.server.asked[-1]
    assert "authorization" not in headers
    assert f"client_id={CLIENT}" in body


def test_settings_of_sign_on_are_read(tmp_path: Path) -> None:
    more = {"CLAIM": "email", "NAME": "the works", "SECRET_FILE": str(tmp_path / "s")}
    given = {f"RINGWRIGHT_SIGN_ON_{name}": value for name, value in more.items()}

    settings = read_settings({**GOOD, **given})

    assert settings.address == "https://ringwright.example"
    assert settings.sign_on_secret_file == tmp_path / "s"
    assert (settings.sign_on_claim, settings.sign_on_name) == ("email", "the works")


def test_empty_settings_are_none() -> None:
    settings = read_settings(dict.fromkeys([*GOOD, "RINGWRIGHT_SIGN_ON_SECRET_FILE"], ""))

    assert provider_of(settings) is None


def test_the_button_says_the_servers_host_where_no_name_is_set() -> None:
    provider = provider_of(read_settings(GOOD))

    assert provider is not None
    assert provider.name == "sign-on.example"


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"RINGWRIGHT_SIGN_ON_ISSUER": "http://sign-on.example"}, "is no https address"),
        ({"RINGWRIGHT_SIGN_ON_ISSUER": "https://user@sign-on.example"}, "is no https address"),
        ({"RINGWRIGHT_SIGN_ON_ISSUER": "https://sign-on.example?x=1"}, "is no https address"),
        ({"RINGWRIGHT_SIGN_ON_ISSUER": "sign-on.example"}, "is no https address"),
        ({"RINGWRIGHT_SIGN_ON_ISSUER": ""}, "needs RINGWRIGHT_SIGN_ON_ISSUER"),
        ({"RINGWRIGHT_SIGN_ON_CLIENT": ""}, "needs RINGWRIGHT_SIGN_ON_CLIENT"),
        ({"RINGWRIGHT_ADDRESS": ""}, "needs RINGWRIGHT_ADDRESS"),
        ({"RINGWRIGHT_ADDRESS": "http://ringwright.example"}, "is no address like"),
        ({"RINGWRIGHT_ADDRESS": "https://ringwright.example/week"}, "is no address like"),
        ({"RINGWRIGHT_ADDRESS": "https://ring wright.example"}, "is no address like"),
        ({"RINGWRIGHT_ADDRESS": "https://ringwright.example:x"}, "is no address like"),
    ],
    ids=str,
)
def test_a_setting_that_cannot_be_meant_is_refused_in_one_line(
    changed: dict[str, str], why: str
) -> None:
    with pytest.raises(Refused, match=why) as refusal:
        read_settings({**GOOD, **changed})
    assert "\n" not in refusal.value.message


@pytest.mark.parametrize("host", ["127.0.0.1:8321", "localhost:8321", "[::1]:8321"])
def test_this_machine_needs_no_tls(host: str) -> None:
    settings = read_settings({**GOOD, "RINGWRIGHT_ADDRESS": f"http://{host}"})

    assert settings.address == f"http://{host}"


@pytest.mark.parametrize("content", [None, b"", b"\n", b"one\ntwo", "sécret".encode()])
def test_a_file_without_a_secret_is_refused_and_not_shown(
    tmp_path: Path, content: bytes | None
) -> None:
    path = tmp_path / "secret"
    if content is not None:
        path.write_bytes(content)
    settings = read_settings({**GOOD, "RINGWRIGHT_SIGN_ON_SECRET_FILE": str(path)})

    with pytest.raises(Refused, match="holds no secret") as refusal:
        provider_of(settings)
    assert "one" not in refusal.value.message.replace(str(path), "")


def settings_of(server: Server) -> Settings:
    """Settings for that server, without a secret."""
    return Settings(
        database_url="",
        address=ADDRESS,
        sign_on_issuer=server.issuer,
        sign_on_client=CLIENT,
    )

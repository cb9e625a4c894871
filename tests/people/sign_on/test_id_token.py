"""Tokens that a server, or somebody in between, may send; each through the whole sign-on.

Sources: OpenID Connect Core 1.0, 3.1.3.7 (the numbers are its items), RFC 8725 (JSON Web Token
Best Current Practices), RFC 7517 and RFC 7518 (keys and algorithms).
"""

from __future__ import annotations

import base64
import hmac
from typing import Any

import pytest
from joserfc.jwk import ECKey, Key, OctKey, RSAKey

from ringwright.ledger.service import Ledger
from ringwright.people.id_token import key_set
from tests.make.provider import CLIENT, EC, ED, RSA, SECRET, Server
from tests.make.sign_on import Browser, audit

FORGED = RSAKey.generate_key(2048, {"kid": "rsa"})
NOW = 1_790_848_800
"""The record's clock: 2026-10-01T12:00+02:00."""


def test_the_clock_is_the_one_that_the_tokens_here_are_made_by(server: Server) -> None:
    assert server.now_s == NOW


@pytest.mark.parametrize(
    ("alg", "key"), [("RS256", RSA), ("PS256", RSA), ("ES256", EC), ("EdDSA", ED)]
)
def test_a_token_signed_by_the_servers_key_is_taken(
    browser: Browser, alg: str, key: Key
) -> None:
    browser.server.header = {"alg": alg, "kid": key.kid, "x-more": "unread"}
    browser.server.key = key

    assert browser.sign_on().status_code == 303


def test_a_forged_signature_is_refused(browser: Browser) -> None:
    # 6: the signature must be that of a key of the issuer.
    browser.server.key = FORGED

    refused(browser, "signature is not the server")


def test_a_token_changed_on_its_way_is_refused(browser: Browser) -> None:
    asked = browser.begin()
    head, _, signature = browser.server.made().split(".")
    browser.server.claims = {"sub": "somebody else"}
    browser.server.token = ".".join((head, browser.server.made().split(".")[1], signature))

    assert browser.back(asked["state"]).status_code == 401
    assert not browser.is_in


@pytest.mark.parametrize(
    ("alg", "key"),
    [
        ("none", RSA),
        # A key that we hold too: our secret there; and one that nobody holds.
        ("HS256", OctKey.import_key(SECRET)),
        ("HS256", OctKey.import_key("x" * 32)),
        ("RS512", RSA),
    ],
)
def test_a_signature_that_others_can_make_is_refused(
    browser: Browser, alg: str, key: Key
) -> None:
    # 7 and 8; RFC 8725, 2.1 and 3.1.
    browser.server.header = {"alg": alg, "kid": "rsa"}
    browser.server.key = key

    refused(browser, "of a kind that is not taken here")


def test_the_public_key_as_a_shared_secret_is_refused(browser: Browser) -> None:
    # RFC 8725, 2.1: the server's public key, known to all, taken for a shared secret.
    asked = browser.begin()
    head = base64.urlsafe_b64encode(b'{"alg":"HS256","kid":"rsa"}').decode()
    signed = ".".join((head, browser.server.made().split(".")[1]))
    digest = hmac.digest(RSA.as_pem(private=False), signed.encode(), "sha256")
    signature = base64.urlsafe_b64encode(digest).rstrip(b"=").decode()
    browser.server.token = f"{signed}.{signature}"

    assert browser.back(asked["state"]).status_code == 401
    assert not browser.is_in


@pytest.mark.parametrize(
    ("claims", "why"),
    [
        pytest.param({"iss": "https://other.example"}, "iss is not as", id="2: other issuer"),
        pytest.param({"iss": None}, "says no iss", id="2: no issuer"),
        pytest.param({"aud": "other"}, "for us alone", id="3: for others"),
        pytest.param({"aud": None}, "for us alone", id="3: for nobody"),
        pytest.param({"aud": ["other"], "azp": CLIENT}, "for us alone", id="3: others by us"),
        pytest.param({"aud": [CLIENT, "other"], "azp": CLIENT}, "for us alone", id="3: us too"),
        pytest.param({"aud": [CLIENT, "other"]}, "for us alone", id="4: no party"),
        pytest.param({"azp": "other"}, "azp is not as", id="5: other party"),
        pytest.param({"exp": NOW - 61}, "expired", id="9: expired"),
        pytest.param({"exp": None}, "says no exp", id="9: never expires"),
        pytest.param({"exp": "2030"}, "exp is not as", id="9: no number"),
        pytest.param({"iat": NOW + 61}, "iat is not as", id="10: of tomorrow"),
        pytest.param({"iat": NOW - 601}, "too long ago", id="10: of before"),
        pytest.param({"iat": None}, "says no iat", id="10: of no time"),
        pytest.param({"nbf": NOW + 61}, "nbf is not as", id="not yet good"),
        pytest.param({"nonce": "another"}, "nonce is not as", id="11: other nonce"),
        pytest.param({"nonce": None}, "says no nonce", id="11: no nonce"),
        pytest.param({"sub": None}, "says no sub", id="2 of Core: nobody"),
    ],
)
def test_a_token_that_says_something_else_is_refused(
    browser: Browser, ledger: Ledger, claims: dict[str, Any], why: str
) -> None:
    browser.server.claims = claims

    refused(browser, why)

    assert [kind for kind, _, _ in audit(ledger)] == ["not-signed-in"]


@pytest.mark.parametrize(
    "claims",
    [{"aud": [CLIENT]}, {"azp": CLIENT}, {"exp": NOW - 59}, {"iat": NOW + 59}, {"nbf": NOW}],
    ids=str,
)
def test_what_the_standard_allows_is_taken(browser: Browser, claims: dict[str, Any]) -> None:
    browser.server.claims = claims

    assert browser.sign_on().status_code == 303


def test_a_token_of_an_earlier_sign_on_is_refused(browser: Browser) -> None:
    # 11: the nonce binds the token to the browser that began.
    browser.begin()
    browser.server.token = browser.server.made()

    refused(browser, "nonce is not as")


@pytest.mark.parametrize("token", ["", "a.b", "a.b.c", "e30.e30.", "x" * 200_000, "é.é.é"])
def test_what_is_no_token_is_refused(browser: Browser, token: str) -> None:
    browser.server.token = token or None
    browser.server.documents = {} if token else {"/token": (200, {}, b'{"token_type": "x"}')}

    assert browser.sign_on().status_code == 401
    assert not browser.is_in


def test_a_key_that_is_new_at_the_server_is_fetched(browser: Browser) -> None:
    # Core 10.1.1: keys are rotated.
    assert browser.sign_on().status_code == 303
    new = ECKey.generate_key("P-256", {"kid": "new"})
    browser.server.key, browser.server.header = new, {"alg": "ES256", "kid": "new"}
    browser.server.published = [new]

    assert browser.sign_on().status_code == 303


def test_a_key_that_the_server_does_not_publish_is_refused(browser: Browser) -> None:
    browser.server.header = {"alg": "RS256", "kid": "elsewhere"}

    answer = browser.sign_on()

    assert answer.status_code == 401
    assert "does not publish" in answer.text


@pytest.mark.filterwarnings("ignore:Key size should be >= 2048 bits")
@pytest.mark.parametrize(
    "data",
    [{"use": "enc"}, {"kty": "oct", "k": "eHh4"}, {"n": "AQAB"}, {"crv": "P-0"}, {"kty": None}],
    ids=str,
)
def test_a_key_for_something_else_is_left_out(data: dict[str, Any]) -> None:
    # RFC 7517, 4.2 and 5; RFC 7518, 3.3.
    kind = EC if "crv" in data else RSA
    strange = {**kind.as_dict(private=False), **data}
    good = ED.as_dict(private=False)

    assert [key.kid for key in key_set({"keys": [strange, "none", good]})] == ["ed"]


def refused(browser: Browser, why: str) -> None:
    """Sign on, and see that it lets nobody in, and why."""
    answer = browser.sign_on()
    assert answer.status_code == 401, answer.text
    assert why in answer.text.replace("&#39;", "'")
    assert not browser.is_in

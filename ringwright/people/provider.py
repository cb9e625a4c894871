"""The shop's own sign-on server, as we speak to it: OpenID Connect, authorization code flow."""

from __future__ import annotations

import logging
import re
import ssl
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final

import httpx2
from authlib.integrations.base_client import OAuthError
from authlib.integrations.httpx_client import OAuth2Client
from authlib.oidc.core import UserInfo
from authlib.oidc.discovery import get_well_known_url
from joserfc.jwk import KeySet

from ringwright.core.errors import Refused, RingwrightError
from ringwright.people.id_token import (
    Expected,
    NotProved,
    UnknownKey,
    check_id_token,
    key_set,
)
from ringwright.settings import Settings, place_of

log = logging.getLogger("ringwright.people")

TIMEOUT_S: Final = 5.0
MOST_BYTES: Final = 256 * 1024
"""More than any document of such a server holds."""
FRESH_S: Final = 3600.0
"""That long its addresses and keys are taken as they were read."""
DOWN_S: Final = 10.0
"""That long a server that did not answer is not asked again."""
AT_ONCE: Final = 4
"""Conversations at a time, so that a slow server cannot take every thread of ours."""
RETURN: Final = "/sign-in/return"


class Unreachable(RingwrightError):
    """The sign-on server does not answer as such a server should; a password still works."""

    status = 503
    code = "sign-on-unreachable"


class Outside(httpx2.BaseTransport):
    """Speaks to the one place it was made for, for a short time, about little."""

    def __init__(self, place: tuple[str, str, int], inner: httpx2.BaseTransport) -> None:
        self._place = place
        self._inner = inner

    def close(self) -> None:
        """Close what is still open."""
        self._inner.close()

    def handle_request(self, request: httpx2.Request) -> httpx2.Response:
        """Its answer, read whole. Raises httpx2.TransportError."""
        if place_of(str(request.url)) != self._place:
            raise httpx2.TransportError("another place than the issuer's")
        request.headers["Accept-Encoding"] = "identity"
        ends = time.monotonic() + TIMEOUT_S
        answer = self._inner.handle_request(request)
        try:
            content = _read(answer, ends)
        finally:
            answer.close()
        # Packed content stays packed: it may be a thousand times as large when unpacked.
        kept = {"content-type": answer.headers.get("content-type", "")}
        return httpx2.Response(answer.status_code, headers=kept, content=content)


def _read(answer: httpx2.Response, ends: float) -> bytes:
    content = bytearray()
    assert isinstance(answer.stream, httpx2.SyncByteStream)
    for chunk in answer.stream:
        content += chunk
        if len(content) > MOST_BYTES:
            raise httpx2.TransportError("larger than such an answer may be")
        if time.monotonic() > ends:
            raise httpx2.ReadTimeout("it took too long")
    return bytes(content)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the server says of itself, and when that is too old."""

    authorize: str
    token: str
    says_issuer: bool
    """It names itself in every answer (RFC 9207)."""
    auth_method: str
    keys: KeySet
    until: float


class Provider:
    """One sign-on server; one for each running application."""

    def __init__(
        self, settings: Settings, seconds: Callable[[], float] = time.monotonic
    ) -> None:
        assert settings.sign_on_issuer
        place = place_of(settings.sign_on_issuer)
        assert place is not None
        self.issuer = settings.sign_on_issuer
        self.client = settings.sign_on_client
        self.claim = settings.sign_on_claim
        self.name = settings.sign_on_name or place[1]
        self.address = settings.address or ""
        self._secret = _secret_of(settings)
        self._place = place
        self._seconds = seconds
        self._few = threading.BoundedSemaphore(AT_ONCE)
        self._certificates = ssl.create_default_context()
        self._known: Known | None = None
        self._down_until = -1.0

    def known(self, *, anew: bool = False) -> Known:
        """Its addresses and keys, read again after an hour. Raises Unreachable."""
        now = self._seconds()
        if self._known is not None and not anew and now < self._known.until:
            return self._known
        if now < self._down_until:
            raise self._unreachable("cannot be reached just now")
        try:
            self._known = self._read_known()
        except Unreachable:
            self._down_until = self._seconds() + DOWN_S
            raise
        return self._known

    def where_to(self, state: str, nonce: str, verifier: str) -> str:
        """The address at which a person signs in there (Core 3.1.2.1; RFC 7636, 4.3)."""
        where = self.known().authorize
        with self._client() as client:
            address, _state = client.create_authorization_url(
                where, state=state, code_verifier=verifier, nonce=nonce
            )
        return str(address)

    def check_answer(self, error: str, issuer: str) -> None:
        """Raise NotProved where it says no, or another server answered (RFC 9207, 2.4)."""
        known = self.known()
        if (issuer or known.says_issuer) and issuer != self.issuer:
            raise NotProved("another sign-on server answered than the one asked; begin anew")
        if error:
            kind = error if re.fullmatch(r"[a-z_]{1,40}", error) else "an error"
            raise NotProved(f"{self.name} did not sign you in: {kind}")

    def claims(self, code: str, verifier: str, nonce: str, now_s: int) -> dict[str, Any]:
        """Who stands here, by the code of the browser. Raises NotProved, Unreachable."""
        known = self.known()
        with self._conversation(known.auth_method) as client:
            answer = client.fetch_token(known.token, code=code, code_verifier=verifier)
            # Whatever else it holds opens doors elsewhere; we keep none of it.
            token = answer.get("id_token")
        expected = Expected(issuer=self.issuer, client=self.client, nonce=nonce, now_s=now_s)
        try:
            return check_id_token(token, known.keys, expected)
        except UnknownKey:
            keys = self.known(anew=True).keys
        try:
            return check_id_token(token, keys, expected)
        except UnknownKey:
            raise NotProved(
                f"{self.name} signed with a key that it does not publish; tell whoever keeps it"
            ) from None

    def _client(self, auth_method: str | None = None) -> OAuth2Client:
        inner = httpx2.HTTPTransport(verify=self._certificates, trust_env=False)
        return OAuth2Client(
            self.client,
            self._secret,
            token_endpoint_auth_method=auth_method,
            scope=scope_of(self.claim),
            redirect_uri=self.address + RETURN,
            code_challenge_method="S256",
            timeout=TIMEOUT_S,
            follow_redirects=False,
            transport=Outside(self._place, inner),
        )

    @contextmanager
    def _conversation(self, auth_method: str | None = None) -> Iterator[OAuth2Client]:
        if not self._few.acquire(timeout=1):
            raise self._unreachable("is busy; wait a moment")
        try:
            with self._client(auth_method) as client:
                yield client
        except OAuthError as trouble:
            # RFC 6749, 5.2: the code was none, or we are not who we say.
            kind = trouble.error if re.fullmatch(r"[a-z_]{1,40}", str(trouble.error)) else ""
            raise NotProved(f"{self.name} refused its own answer: {kind}; begin anew") from None
        except httpx2.HTTPError:
            raise self._unreachable("cannot be reached just now") from None
        except (ValueError, TypeError, RecursionError) as trouble:
            log.warning(
                "what the sign-on server sent cannot be read: %s", type(trouble).__name__
            )
            raise self._unreachable("answers something else than it should") from None
        finally:
            self._few.release()

    def _read_known(self) -> Known:
        with self._conversation() as client:
            says = _document(client, get_well_known_url(self.issuer, external=True))
            if says.get("issuer") != self.issuer:  # Discovery 1.0, 4.3
                raise self._unreachable(
                    "says that it is another than RINGWRIGHT_SIGN_ON_ISSUER"
                )
            names = ("authorization_endpoint", "token_endpoint", "jwks_uri")
            authorize, token, keys = (str(says.get(name)) for name in names)
            if any(place_of(one) != self._place for one in (authorize, token, keys)):
                raise self._unreachable("sends us to another host than its own")
            return Known(
                authorize=authorize,
                token=token,
                says_issuer=says.get("authorization_response_iss_parameter_supported") is True,
                auth_method=self._auth_method(says),
                keys=key_set(_document(client, keys)),
                until=self._seconds() + FRESH_S,
            )

    def _auth_method(self, says: Mapping[str, Any]) -> str:
        """How we prove to be ourselves there (Core, 9); without a list it takes the first."""
        if self._secret is None:
            return "none"
        taken = says.get("token_endpoint_auth_methods_supported") or ["client_secret_basic"]
        basic = "client_secret_basic" in taken or "client_secret_post" not in taken
        return "client_secret_basic" if basic else "client_secret_post"

    def _unreachable(self, what: str) -> Unreachable:
        return Unreachable(f"{self.name} {what}; a password still works")


def provider_of(settings: Settings) -> Provider | None:
    """The sign-on server of the settings, or None. Raises Refused (no secret in its file)."""
    return Provider(settings) if settings.sign_on_issuer else None


def scope_of(claim: str) -> str:
    """The least to ask for so that the answer holds the claim (Core, 5.4)."""
    for scope, claims in UserInfo.SCOPES_CLAIMS_MAPPING.items():
        if claim in claims:
            return "openid" if scope == "openid" else f"openid {scope}"
    return "openid profile"


def _document(client: OAuth2Client, address: str) -> dict[str, Any]:
    wanted = {"Accept": "application/json"}
    answer = client.request("GET", address, withhold_token=True, headers=wanted)
    found = answer.json() if answer.status_code == 200 else None
    if not isinstance(found, dict):
        raise httpx2.TransportError("no document")
    return found


def _secret_of(settings: Settings) -> str | None:
    path = settings.sign_on_secret_file
    if path is None:
        return None
    try:
        secret = path.read_bytes()[:4096].decode("ascii").strip()
    except (OSError, UnicodeDecodeError):
        secret = ""
    if not secret.isprintable() or not secret:
        raise Refused(
            f"RINGWRIGHT_SIGN_ON_SECRET_FILE {str(path)!r} holds no secret to be read"
        )
    return secret

"""A sign-on server of our own making, which tells what a test lets it tell."""

from __future__ import annotations

import base64
import hashlib
import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs

from joserfc import jwt
from joserfc.jwk import ECKey, Key, OKPKey, RSAKey
from joserfc.jws import JWSRegistry

CLIENT = "shop-pages"
SECRET = "-".join(("told", "to", "nobody"))
RSA = RSAKey.generate_key(2048, {"kid": "rsa", "use": "sig"})
EC = ECKey.generate_key("P-256", {"kid": "ec", "use": "sig"})
ED = OKPKey.generate_key("Ed25519", {"kid": "ed", "use": "sig"})


class AnySignature(JWSRegistry):
    """Signs with whatever is asked, as a forger would."""

    def __init__(self) -> None:
        super().__init__(strict_check_header=False)

    def get_alg(self, name: str) -> Any:
        return self.algorithms[name]


@dataclass(kw_only=True)
class Server:
    """What it answers, to be changed by a test, and what it was asked."""

    issuer: str = ""
    now_s: int = 0
    nonce: str = ""
    challenge: str = ""
    claims: dict[str, Any] = field(default_factory=dict)
    """Over the right ones; None takes a claim away."""
    header: dict[str, Any] = field(default_factory=lambda: {"alg": "RS256", "kid": "rsa"})
    key: Key = field(default_factory=lambda: RSA)
    published: list[Key] = field(default_factory=lambda: [RSA, EC, ED])
    token: str | None = None
    """The very id token, instead of a made one."""
    says: dict[str, Any] = field(default_factory=dict)
    """Over what it says of itself."""
    documents: dict[str, tuple[int, dict[str, str], bytes]] = field(default_factory=dict)
    """The very answer to a path: status, headers, body."""
    slow_s: float = 0.0
    asked: list[tuple[str, dict[str, str], str]] = field(default_factory=list)
    """(path, headers, body) of what came."""

    def made(self) -> str:
        """An id token."""
        claims = {
            "iss": self.issuer,
            "sub": "worker-7",
            "aud": CLIENT,
            "exp": self.now_s + 300,
            "iat": self.now_s,
            "nonce": self.nonce,
            **self.claims,
        }
        kept = {name: value for name, value in claims.items() if value is not None}
        return jwt.encode(self.header, kept, self.key, registry=AnySignature())

    def answer(self, path: str, body: str) -> tuple[int, dict[str, str], bytes]:
        """Status, headers and body."""
        if path in self.documents:
            return self.documents[path]
        if path == "/keys":
            keys = [key.as_dict(private=False) for key in self.published]
            return _json({"keys": keys})
        if path == "/token":
            return self._token(parse_qs(body))
        says = {
            "issuer": self.issuer,
            "authorization_endpoint": f"{self.issuer}/authorize",
            "token_endpoint": f"{self.issuer}/token",
            "jwks_uri": f"{self.issuer}/keys",
        }
        return _json({**says, **self.says})

    def _token(self, sent: dict[str, list[str]]) -> tuple[int, dict[str, str], bytes]:
        # RFC 7636, 4.6, worked out here by hashlib alone.
        digest = hashlib.sha256(sent["code_verifier"][0].encode()).digest()
        if base64.urlsafe_b64encode(digest).rstrip(b"=").decode() != self.challenge:
            return _json({"error": "invalid_grant"}, 400)
        token = self.token or self.made()
        return _json({"access_token": "opens-doors", "token_type": "Bearer", "id_token": token})


def _json(what: object, status: int = 200) -> tuple[int, dict[str, str], bytes]:
    return status, {"Content-Type": "application/json"}, json.dumps(what).encode()


@contextmanager
def serving(server: Server) -> Iterator[Server]:
    """The server on a free port of this machine, as long as a test needs it."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = self.rfile.read(int(self.headers.get("content-length", 0))).decode()
            headers = {name.lower(): value for name, value in self.headers.items()}
            server.asked.append((self.path, headers, body))
            time.sleep(server.slow_s)
            status, headers, content = server.answer(self.path, body)
            try:
                self.send_response(status)
                for name, value in headers.items():
                    self.send_header(name, value)
                self.send_header("Content-Length", str(len(content)))
                self.end_headers()
                self.wfile.write(content)
            except OSError:
                pass  # whoever asked did not wait

        do_POST = do_GET  # noqa: N815

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    listening = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.issuer = f"http://127.0.0.1:{listening.server_port}"
    thread = threading.Thread(target=listening.serve_forever, args=(0.05,))
    thread.start()
    try:
        yield server
    finally:
        listening.shutdown()
        listening.server_close()
        thread.join(10)

"""What every answer carries, and which unsafe requests are turned away."""

from __future__ import annotations

from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ringwright.kit.forms import SAFE

POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "font-src 'self'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "object-src 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
KEPT_A_YEAR: Final = "public, max-age=31536000, immutable"
TLS_ONLY: Final = "max-age=31536000; includeSubDomains"
"""A year, with every name below: OWASP ASVS 5.0.0, 3.4.1."""


class Guard:
    """Refuses what another site's page sends; puts the policy on every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer 403 to a foreign unsafe request, else pass it on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_policy(message: Message) -> None:
            if message["type"] == "http.response.start":
                dress(MutableHeaders(scope=message), scope, message["status"])
            await send(message)

        if scope["method"] not in SAFE and not comes_from_here(
            Headers(scope=scope), scope["path"]
        ):
            await _foreign(scope["path"])(scope, receive, send_with_policy)
            return
        await self.app(scope, receive, send_with_policy)


def is_api(path: str) -> bool:
    """True for an address whose asker is a program."""
    return path == "/api" or path.startswith("/api/")


def comes_from_here(headers: Headers, path: str) -> bool:
    """True unless the headers say that another site's page sent the request.

    A browser says so itself (Sec-Fetch-Site, else Origin).
    """
    site = headers.get("sec-fetch-site")
    origin = headers.get("origin")
    if origin is not None and not _same_origin(origin, headers):
        return False
    if site is not None:
        return site in ("same-origin", "none")
    # Neither header: no browser of today, so no page sent it. What the API asks is a token, and
    # no cookie opens it; a page's form wants proof that it was sent from here.
    return origin is not None or is_api(path)


def _same_origin(origin: str, headers: Headers) -> bool:
    try:
        parts = urlsplit(origin)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and parts.netloc == headers.get("host")


def _foreign(path: str) -> Response:
    detail = "This request came from another site's page; nothing was booked."
    if is_api(path):
        return JSONResponse({"error": "foreign-origin", "detail": detail}, status_code=403)
    return PlainTextResponse(detail, status_code=403)


def dress(headers: MutableHeaders, scope: Scope, status: int) -> None:
    """Put on an answer what every answer carries."""
    for name, value in HEADERS.items():
        headers.setdefault(name, value)
    static = scope["path"].startswith("/static/") and status in (200, 304)
    if static and b"v=" in scope.get("query_string", b""):
        headers["Cache-Control"] = KEPT_A_YEAR
    elif scope["path"].startswith("/static/"):
        headers.setdefault("Cache-Control", "no-cache")
    else:
        headers.setdefault("Cache-Control", "no-store")
    if scope.get("scheme") == "https":
        headers.setdefault("Strict-Transport-Security", TLS_ONLY)

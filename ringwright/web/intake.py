"""What a request must be like before anything of ours reads it."""

from __future__ import annotations

from collections.abc import Iterable

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ringwright.core.errors import TooLarge
from ringwright.kit.forms import MOST_BYTES, MOST_FILM_BYTES, SAFE, TAKES_FILMS
from ringwright.web.caps import (
    METHODS,
    MOST_JSON_BYTES,
    NO_NUL,
    Trouble,
    trouble_of_headers,
    trouble_of_json,
    trouble_of_query,
)
from ringwright.web.errors import refusal
from ringwright.web.hosts import answers_to
from ringwright.web.security import is_api


class Intake:
    """Turns away what asks by a foreign name, is too large, too deep or ambiguous."""

    def __init__(self, app: ASGIApp, hosts: Iterable[str] = ()) -> None:
        self.app = app
        self.hosts = tuple(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer in words what is turned away, else pass it on with its body measured."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if not answers_to(headers.get("host", ""), self.hosts):
            await _stranger(scope["path"])(scope, receive, send)
            return
        trouble = _trouble(scope, headers)
        if trouble is None and scope["method"] not in SAFE and is_api(scope["path"]):
            body, trouble = await _whole(receive)
            receive = _again(body, receive)
        if trouble is not None:
            await _told(scope, trouble)(scope, receive, send)
            return
        await self.app(scope, _measured(receive, _most(scope, headers)), send)


def _trouble(scope: Scope, headers: Headers) -> Trouble | None:
    if scope["method"] not in METHODS:
        return Trouble(405, "method-not-allowed", "that is not possible here")
    length = headers.get("content-length", "0")
    most = _most(scope, headers)
    # The server in front has refused such a length before; another server might not.
    if not (length.isascii() and length.isdigit()):
        return Trouble(400, "malformed", "the length of what was sent is no number")
    if len(length) > 12 or int(length) > most:
        return _too_large(most)
    if "\x00" in scope["path"]:
        return NO_NUL
    return trouble_of_headers(scope["headers"]) or trouble_of_query(scope["query_string"])


def _most(scope: Scope, headers: Headers) -> int:
    """How large a body may be: files come in parts, which wait on disk and not in memory."""
    if is_api(scope["path"]):
        return MOST_JSON_BYTES
    in_parts = headers.get("content-type", "").startswith("multipart/form-data")
    return MOST_FILM_BYTES if in_parts and scope["path"].startswith(TAKES_FILMS) else MOST_BYTES


def _too_large(most: int) -> Trouble:
    told = (
        f"what was sent is larger than {most // 1024 // 1024} MB; load it by the command line"
    )
    return Trouble(413, "too-large", told)


async def _whole(receive: Receive) -> tuple[bytes, Trouble | None]:
    """The body of an order to the API, and what is wrong with it."""
    body = bytearray()
    more = True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            break
        body += message.get("body", b"")
        more = message.get("more_body", False)
        if len(body) > MOST_JSON_BYTES:
            return b"", _too_large(MOST_JSON_BYTES)
    return bytes(body), trouble_of_json(bytes(body)) if body else None


def _again(body: bytes, receive: Receive) -> Receive:
    """The body once more; afterwards whatever the connection says."""
    given = False

    async def give() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return give


def _measured(receive: Receive, most: int) -> Receive:
    """A body that is stopped where it grows past what anything here takes.

    Its length need not have been told: it may come in chunks.
    """
    size = 0

    async def give() -> Message:
        nonlocal size
        message = await receive()
        size += len(message.get("body", b""))
        if size > most:
            raise TooLarge(_too_large(most).detail)
        return message

    return give


def _stranger(path: str) -> Response:
    """RFC 9110, 15.5.20: a name that this server does not answer for."""
    detail = "This server does not answer to that name; RINGWRIGHT_HOSTS lists its names."
    if is_api(path):
        return JSONResponse({"error": "host", "detail": detail}, status_code=421)
    return PlainTextResponse(detail, status_code=421)


def _told(scope: Scope, trouble: Trouble) -> Response:
    answer = refusal(Request(scope), trouble.status, trouble.code, trouble.detail)
    if trouble.status == 405:
        answer.headers["Allow"] = "GET, POST"
    return answer

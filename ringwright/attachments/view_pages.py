"""A radiograph is looked at: its page, and the picture that the page asks for."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from threading import BoundedSemaphore
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.attachments.asked import Asked, asked_of
from ringwright.attachments.board import FilmBoard
from ringwright.attachments.content import Content, film_of
from ringwright.attachments.queries import read_attached, read_attachment
from ringwright.attachments.rules import PHOTO, WITH_LEVELS
from ringwright.core.errors import Missing, RingwrightError
from ringwright.imaging.film import Film
from ringwright.imaging.heads import is_grey
from ringwright.imaging.view import drawn, size_of
from ringwright.kit.render import figures_for, page, path_for, words_for
from ringwright.people.screen import AtScreen, Screen

router = APIRouter(include_in_schema=False)

AT_ONCE: Final = BoundedSemaphore(2)
"""Radiographs that are decoded and drawn at one time; one is 32 MB of values or less."""
PATIENCE_S: Final = 3.0
WAY: Final = b"1"
"""Counted on when the same question is drawn otherwise, so that no browser keeps the old."""


@router.get("/attachments/{digest}/view", name="attachments.view")
def view(request: Request, screen: AtScreen, digest: str) -> Response:
    """What does the radiograph show, at which level and window?"""
    content, shows = _kept(screen, digest, request.query_params.get("part", ""))
    if content.media == "image/png" and not is_grey(content.data):
        return RedirectResponse(path_for(request, "attachments.photo", digest=digest), 303)
    with Turn():
        film = opened(content)
        asked = asked_of(request.query_params, film)
        board = FilmBoard(
            film=film,
            asked=asked,
            shows=shows,
            words=words_for(request),
            show=figures_for(request),
        )
        return page(request, "attachments/view.html", board=board, digest=digest,
                    content=content, size=size_of(asked.view, film))  # fmt: skip


@router.get("/attachments/{digest}/view/image", name="attachments.image")
def image(request: Request, screen: AtScreen, digest: str) -> Response:
    """The shown part as an 8-bit PNG. The same question has the same ETag (RFC 9110, 8.8.3)."""
    content, _ = _kept(screen, digest, "")
    tag = _tag(request, digest)
    headers = {"ETag": tag, "Cache-Control": "private, no-cache"}
    if tag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    with Turn():
        film = opened(content)
        asked: Asked = asked_of(request.query_params, film)
        return Response(drawn(film, asked.view), media_type="image/png", headers=headers)


def _tag(request: Request, digest: str) -> str:
    """Of what is asked, not of the answer: what is kept under a digest never changes."""
    said = "&".join(f"{k}={v}" for k, v in sorted(request.query_params.items()))
    found = hashlib.sha256(b"\n".join((WAY, digest.encode(), said.encode())))
    return f'"{found.hexdigest()[:32]}"'


class Busy(RingwrightError):
    """Others are being served first; nothing is wrong with what was asked."""

    status = 503
    code = "busy"


class Turn:
    """One of the few turns at decoding; raises Busy where all stay taken."""

    def __enter__(self) -> None:
        if not AT_ONCE.acquire(timeout=PATIENCE_S):
            raise Busy("several radiographs are being drawn; ask again in a few seconds")

    def __exit__(self, *_: object) -> None:
        AT_ONCE.release()


@lru_cache(maxsize=2)
def opened(content: Content) -> Film:
    """The values of a kept radiograph; the last two stay decoded while somebody steps."""
    return film_of(content)


def _kept(screen: Screen, digest: str, part: str) -> tuple[Content, str]:
    """What is kept, and what it shows as whoever attached it to that part said."""
    with screen.ledger.read(screen.site) as read:
        content = read_attachment(read.connection, read.site.id, digest)
        attached = read_attached(read, part.strip()) if part else []
    if content.media not in WITH_LEVELS:
        told = "photo" if content.kind.what == PHOTO else content.kind.word
        raise Missing(f"that is a {told}, which has no levels to be set")
    shows = next((one.shows for one in attached if one.digest == digest), "")
    return content, shows

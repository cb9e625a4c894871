"""What is attached, served to whoever may read the site: never as a page of ours."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter
from starlette.responses import Response

from ringwright.attachments.content import Content, thumbnail
from ringwright.attachments.queries import read_attachment
from ringwright.attachments.rules import PHOTO, RADIOGRAPH
from ringwright.attachments.view_pages import Turn
from ringwright.attachments.view_pages import router as view_router
from ringwright.core.errors import Missing
from ringwright.core.practice import file_name_of
from ringwright.people.screen import AtScreen, Screen

router = APIRouter(include_in_schema=False)
router.routes.extend(view_router.routes)

ALONE: Final = "default-src 'none'; sandbox"
"""Whatever a browser makes of the bytes, it may run nothing, load nothing, send nothing."""


@router.get("/attachments/{digest}/file.{form}", name="attachments.file")
def file(screen: AtScreen, digest: str, form: str) -> Response:
    """The bytes as they are kept, to be saved under a name of ours."""
    content, practice = _kept(screen, digest)
    if form != content.kind.ending:
        raise Missing(f"that is a {content.kind.ending}, no {form[:12]!r}")
    name = f"{content.kind.what}-{digest[:12]}.{form}"
    return _served(
        content, f'attachment; filename="{file_name_of(name) if practice else name}"'
    )


@router.get("/attachments/{digest}/photo", name="attachments.photo")
def photo(screen: AtScreen, digest: str) -> Response:
    """A photo to be looked at."""
    return _served(_photo(screen, digest), "inline")


@router.get("/attachments/{digest}/thumbnail", name="attachments.thumbnail")
def small(screen: AtScreen, digest: str) -> Response:
    """A photo made small, or a radiograph as it is first shown."""
    content, _ = _kept(screen, digest)
    if content.kind.what not in (PHOTO, RADIOGRAPH):
        raise Missing("that is no picture; take it as a file")
    with Turn():
        made = thumbnail(content)
    return _served(made, "inline")


def _kept(screen: Screen, digest: str) -> tuple[Content, bool]:
    with screen.ledger.read(screen.site) as read:
        practice = read.site.practice_of is not None
        return read_attachment(read.connection, read.site.id, digest), practice


def _photo(screen: Screen, digest: str) -> Content:
    content, _ = _kept(screen, digest)
    if content.kind.what != PHOTO:
        raise Missing("that is no photo; take it as a file")
    return content


def _served(content: Content, disposition: str) -> Response:
    headers = {
        "Content-Disposition": disposition,
        "Content-Security-Policy": ALONE,
        "Cache-Control": "no-store",
    }
    media = "text/csv; charset=utf-8" if content.media == "text/csv" else content.media
    return Response(content.data, media_type=media, headers=headers)

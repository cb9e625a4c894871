"""A file is what its content is; a photo is kept as its picture alone."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from PIL import Image

from ringwright.attachments.content import digest_of, judged, thumbnail
from ringwright.core.errors import Refused
from tests.make.pictures import PAPER, TABLE, photo, tap


def test_a_digest_is_sha_256() -> None:
    # FIPS 180-2, appendix B.1: the digest of "abc".
    assert digest_of(b"abc") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


@pytest.mark.parametrize(
    ("data", "media"),
    [
        (photo("JPEG"), "image/jpeg"),
        (photo("PNG"), "image/png"),
        (tap(), "audio/wav"),
        (TABLE, "text/csv"),
        (PAPER, "application/pdf"),
    ],
)
def test_a_file_is_what_its_content_is_whatever_it_is_called(data: bytes, media: str) -> None:
    assert judged(data, "readme.exe").media == media


@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_a_photo_loses_where_and_with_what_it_was_taken_and_stands_upright(form: str) -> None:
    sent = photo(form)
    assert b"Camera of somebody" in sent  # the test's own picture says so

    kept = judged(sent).data

    assert b"Camera" not in kept
    picture = Image.open(io.BytesIO(kept))
    assert not picture.getexif()
    assert picture.size == (480, 640)  # Exif orientation 6 of a 640 by 480 picture


def test_what_hides_behind_a_picture_is_not_kept() -> None:
    assert b"<script>" not in judged(photo() + b"<script>alert(1)</script>").data


def test_a_large_photo_is_made_smaller_and_its_thumbnail_small() -> None:
    kept = judged(photo(size=(6000, 1500)))

    assert max(Image.open(io.BytesIO(kept.data)).size) == 3000
    assert max(Image.open(io.BytesIO(thumbnail(kept).data)).size) == 320


def _bomb() -> bytes:
    """A PNG of a few bytes that says it has 900 million pixels (PNG, third edition, 11.2.1)."""
    head = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    body = b"IHDR" + head
    chunk = struct.pack(">I", len(head)) + body + struct.pack(">I", zlib.crc32(body))
    empty = zlib.compress(b"")
    data = b"IDAT" + empty
    more = struct.pack(">I", len(empty)) + data + struct.pack(">I", zlib.crc32(data))
    return b"\x89PNG\r\n\x1a\n" + chunk + more


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "is empty"),
        (photo()[:200], "cannot be decoded"),
        (_bomb(), "30000 by 30000 pixels|cannot be decoded"),
        (tap()[:30], "cannot be read"),
        (tap(seconds=0), "without a sample|cannot be read"),
        (b"%PDF-1.7 and no more", "has no end"),
        (b"GIF89a\x00\x01", "holds bytes that no text holds|no kind that is kept"),
        (b"\x7fELF\xff\xfe", "no kind that is kept"),
        (b"\xff\xd8\xff" + bytes(6 * 1024 * 1024), "a photo may have 5 MB"),
    ],
)
def test_a_bad_file_is_refused_in_a_sentence_that_names_it(data: bytes, told: str) -> None:
    with pytest.raises(Refused, match=told) as refusal:
        judged(data, "IMG_1.jpg")

    assert refusal.value.message.startswith("IMG_1.jpg")

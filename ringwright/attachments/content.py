"""A file as somebody chose it, judged by its content and made safe to keep.

A photograph is decoded and written anew: what comes out holds the picture alone, without the
place, the device and the time that cameras put in, and without anything hidden behind it
(OWASP ASVS 5.0.0, 5.2 and 5.3; OWASP File Upload Cheat Sheet, image rewriting). A radiograph
is written anew too, value by value: what is kept is its values, windows and spacing
(docs/decisions/0047).
"""

from __future__ import annotations

import hashlib
import io
import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

from ringwright.attachments.rules import KINDS, RADIOGRAPH, SORTS, Kind, check_size, media_of
from ringwright.core.errors import Refused
from ringwright.imaging.heads import is_deep

if TYPE_CHECKING:
    from ringwright.imaging.film import Film

MOST_PIXELS: Final = 50_000_000
"""A picture of more is not decoded: a few kilobytes can unfold to gigabytes."""
LONGEST_PX: Final = 3000
"""A larger photo is made smaller; a crack of a tenth of a millimetre on a blade of 300 mm still
has a pixel."""
THUMBNAIL_PX: Final = 320
QUALITY: Final = 88
_UNREAD: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@dataclass(frozen=True, kw_only=True)
class Content:
    """Bytes that may be kept, and what they are."""

    data: bytes
    media: str

    @property
    def kind(self) -> Kind:
        """Its kind."""
        return KINDS[self.media]

    @cached_property
    def digest(self) -> str:
        """SHA-256 (FIPS 180-4) of the bytes, in hexadecimal: what it is kept under."""
        return digest_of(self.data)


def digest_of(data: bytes) -> str:
    """SHA-256 of some bytes in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def judged(data: bytes, name: str = "the file") -> Content:
    """A file's content, as it may be kept; its name says nothing but how to speak of it.

    Raises Refused for one that is empty, too large, damaged or of no kind that is kept.
    """
    media = media_of(data)
    if media not in _JUDGES:
        raise Refused(f"{name} is of no kind that is kept: {SORTS}")
    check_size(name, data, KINDS[media])
    kept = _JUDGES[media](data, name)
    check_size(name, kept, KINDS[media])
    return Content(data=kept, media=media)


def film_of(content: Content) -> Film:
    """The values of what is kept as a radiograph, or as a PNG in shades of grey; raises Refused
    for anything else."""
    from ringwright.imaging.reading import READ, read_film

    if content.media not in READ:
        raise Refused(f"a {content.kind.word} has no levels to be set")
    return read_film(content.data, content.media, f"the {content.kind.word}")


def _picture(data: bytes, name: str) -> Any:
    """The decoded picture, turned as it was held; raises Refused."""
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            picture = Image.open(io.BytesIO(data), formats=("JPEG", "PNG"))
        if picture.width * picture.height > MOST_PIXELS:
            raise Refused(
                f"{name} has {picture.width} by {picture.height} pixels, more than "
                f"{MOST_PIXELS // 1_000_000} million; take it at a lower resolution"
            )
        picture.load()
        return ImageOps.exif_transpose(picture)
    except Refused:
        raise
    except Exception:  # a damaged picture fails in as many ways as there are decoders
        raise Refused(
            f"{name} begins like a picture but cannot be decoded; take it again"
        ) from None


def _photo(form: str) -> Callable[[bytes, str], bytes]:
    def judge(data: bytes, name: str) -> bytes:
        if form == "PNG" and is_deep(data):
            return _radiograph("image/png")(data, name)
        picture = _picture(data, name)
        picture.thumbnail((LONGEST_PX, LONGEST_PX))
        modes = ("RGB", "L") if form == "JPEG" else ("RGB", "L", "RGBA", "LA", "1")
        return _written(picture if picture.mode in modes else picture.convert("RGB"), form)

    return judge


def _radiograph(media: str) -> Callable[[bytes, str], bytes]:
    def judge(data: bytes, name: str) -> bytes:
        from ringwright.imaging.reading import anew

        return anew(data, media, name)

    return judge


def _written(picture: Any, form: str) -> bytes:
    """Pixels only: a new picture has no fields that the old one brought along."""
    from PIL import Image

    bare = Image.frombytes(picture.mode, picture.size, picture.tobytes())
    kept = io.BytesIO()
    options = {"quality": QUALITY} if form == "JPEG" else {"optimize": True}
    bare.save(kept, form, **options)
    return kept.getvalue()


def thumbnail(content: Content) -> Content:
    """A kept photo made small, as JPEG; a radiograph as it is first shown, as PNG."""
    if content.kind.what == RADIOGRAPH or is_deep(content.data):
        return Content(data=_small(film_of(content)), media="image/png")
    return Content(data=_thumbnail(content.data), media="image/jpeg")


def _small(film: Film) -> bytes:
    from ringwright.imaging.view import View, drawn

    scale = THUMBNAIL_PX / max(film.columns, film.rows, THUMBNAIL_PX)
    size = max(1, round(film.columns * scale)), max(1, round(film.rows * scale))
    return drawn(film, View(level=film.first.level, window=film.first.window), size)


def _thumbnail(data: bytes) -> bytes:
    from PIL import Image

    picture = Image.open(io.BytesIO(data), formats=("JPEG", "PNG"))
    picture.draft("RGB", (THUMBNAIL_PX, THUMBNAIL_PX))
    picture.thumbnail((THUMBNAIL_PX, THUMBNAIL_PX))
    return _written(picture.convert("RGB"), "JPEG")


def _wav(data: bytes, name: str) -> bytes:
    """A recording that a library of waveforms can read, with at least one sample."""
    from scipy.io import wavfile

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            _rate, samples = wavfile.read(io.BytesIO(data))
    except Exception:  # a damaged one fails in many ways
        raise Refused(
            f"{name} begins like a WAV recording but cannot be read; record it again"
        ) from None
    if not len(samples):
        raise Refused(f"{name} is a WAV recording without a sample; record it again")
    return data


def _text(data: bytes, name: str) -> bytes:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refused(f"{name} is of no kind that is kept: {SORTS}") from None
    if _UNREAD.search(text):
        raise Refused(f"{name} holds bytes that no text holds: {SORTS}")
    return data


def _pdf(data: bytes, name: str) -> bytes:
    """ISO 32000-1, 7.5.5: it ends with %%EOF, within its last 1024 bytes as readers have it."""
    if b"%%EOF" not in data[-1024:]:
        raise Refused(f"{name} begins like a PDF but has no end; save or scan it again")
    return data


_JUDGES: Final[dict[str, Callable[[bytes, str], bytes]]] = {
    "image/jpeg": _photo("JPEG"),
    "image/png": _photo("PNG"),
    "application/dicom": _radiograph("application/dicom"),
    "image/tiff": _radiograph("image/tiff"),
    "audio/wav": _wav,
    "text/csv": _text,
    "application/pdf": _pdf,
}

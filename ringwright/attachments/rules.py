"""Which kinds of attachment there are, how large each may be, and how each begins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.errors import Refused
from ringwright.core.glossary import N_

MB: Final = 1024 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of attachment: its media type, the ending of its file, its limit."""

    what: str
    word: str
    media: str
    ending: str
    most_bytes: int
    do: str
    """What to do about one that is too large."""


PHOTO: Final = "photo"
RECORDING: Final = "recording"
TABLE: Final = "table"
PAPER: Final = "paper"
RADIOGRAPH: Final = "radiograph"
TRACE: Final = "trace"
TRACE_MEDIA: Final = "application/vnd.ringwright.trace"
"""Readings of a furnace run, packed by ourselves; nobody uploads one."""
TRACE_BEGINS: Final = b"RWHT\x01"
KINDS: Final[dict[str, Kind]] = {
    kind.media: kind
    for kind in (
        Kind(
            what=PHOTO,
            word=N_("photo"),
            media="image/jpeg",
            ending="jpg",
            most_bytes=5 * MB,
            do="take it again at a lower resolution",
        ),
        Kind(
            what=PHOTO,
            word=N_("photo"),
            media="image/png",
            ending="png",
            most_bytes=5 * MB,
            do="save it as JPEG",
        ),
        Kind(
            what=RECORDING,
            word=N_("recording"),
            media="audio/wav",
            ending="wav",
            most_bytes=5 * MB,
            do="record a shorter tap; one second is enough",
        ),
        Kind(
            what=TABLE,
            word=N_("table"),
            media="text/csv",
            ending="csv",
            most_bytes=5 * MB,
            do="keep the part of it that matters",
        ),
        Kind(
            what=PAPER,
            word=N_("paper"),
            media="application/pdf",
            ending="pdf",
            most_bytes=5 * MB,
            do="scan it at a lower resolution",
        ),
        Kind(
            what=RADIOGRAPH,
            word=N_("radiograph"),
            media="application/dicom",
            ending="dcm",
            most_bytes=24 * MB,
            do="crop it to what matters, or pack it with RLE or JPEG 2000",
        ),
        Kind(
            what=RADIOGRAPH,
            word=N_("radiograph"),
            media="image/tiff",
            ending="tif",
            most_bytes=24 * MB,
            do="crop it to what matters, or pack it with deflate",
        ),
        Kind(
            what=TRACE,
            word=N_("furnace trace"),
            media=TRACE_MEDIA,
            ending="trace",
            most_bytes=5 * MB,
            do="hand it in in batches",
        ),
    )
}
"""By media type (IANA registry of media types; `audio/wav` as browsers have it)."""
WITH_LEVELS: Final = ("application/dicom", "image/tiff", "image/png")
"""What may hold a radiograph's values; a PNG in colour has none."""
SORTS: Final = (
    "JPEG and PNG photos, DICOM and TIFF radiographs, WAV recordings, CSV text and PDF papers "
    "are kept"
)
TIFF_BEGINS: Final = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")
"""TIFF 6.0, section 2, in either order of bytes; the last two are BigTIFF."""


def media_of(data: bytes) -> str:
    """The media type that the content itself shows; raises Refused for any other.

    Beginnings: JPEG ITU-T T.81 B.1.1.3 (SOI), PNG (third edition) 5.2, RIFF/WAVE, ISO 32000-1
    7.5.2, DICOM PS3.10 7.1 (128 bytes of anything, then DICM), TIFF 6.0. What is none of these
    is kept only as text.
    """
    if data.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if data[:4] == b"RIFF" and data[8:12] == b"WAVE":
        return "audio/wav"
    if data.startswith(TRACE_BEGINS):
        return TRACE_MEDIA
    return _media_of_others(data)


def _media_of_others(data: bytes) -> str:
    if data[128:132] == b"DICM":
        return "application/dicom"
    if data.startswith(TIFF_BEGINS):
        return "image/tiff"
    if data.startswith(b"%PDF-"):
        return "application/pdf"
    return "text/csv"


def check_size(name: str, data: bytes, kind: Kind) -> None:
    """Raise Refused for an empty file or one larger than its kind may be."""
    if not data:
        raise Refused(f"{name} is empty; choose the file again")
    if len(data) > kind.most_bytes:
        raise Refused(
            f"{name} has {len(data) / MB:.1f} MB; a {kind.word} may have "
            f"{kind.most_bytes // MB} MB: {kind.do}",
            code="too-large",
        )

"""Does a packed picture unfold to what its head says? Asked before it is unfolded.

A few bytes can unfold to gigabytes: run lengths by sixty-four times, a picture within the
picture to whatever its own head says.
"""

from __future__ import annotations

import io
import struct
from typing import Any, Final

from ringwright.core.errors import Refused

PLAIN: Final = {
    "1.2.840.10008.1.2": "implicit VR little endian",
    "1.2.840.10008.1.2.1": "explicit VR little endian",
    "1.2.840.10008.1.2.2": "explicit VR big endian",
}
RLE: Final = "1.2.840.10008.1.2.5"
WITHIN: Final = {
    "1.2.840.10008.1.2.4.50": "JPEG baseline",
    "1.2.840.10008.1.2.4.51": "JPEG extended",
    "1.2.840.10008.1.2.4.90": "JPEG 2000 lossless",
    "1.2.840.10008.1.2.4.91": "JPEG 2000",
}
"""Transfer syntaxes (PS3.5 10 and A) that are read, beside run lengths."""


def check_encoded(file: Any, name: str) -> None:
    """Raise Refused for a way of packing that is not read, or one that unfolds to more."""
    syntax = str(file.file_meta.TransferSyntaxUID)
    if syntax in PLAIN:
        return
    if syntax != RLE and syntax not in WITHIN:
        told = getattr(file.file_meta.TransferSyntaxUID, "name", "")
        told = "" if told == syntax or not told.isprintable() else f" ({told[:60]})"
        raise Refused(
            f"{name} is packed in a way that is not read{told}; export it uncompressed, with "
            "RLE or JPEG 2000"
        )
    from pydicom.encaps import get_frame

    frame = get_frame(file.PixelData, 0, number_of_frames=1)
    if syntax == RLE:
        each = int(file.Rows) * int(file.Columns)
        check_run_lengths(frame, each, int(file.BitsAllocated) // 8)
    else:
        _check_within(frame, (int(file.Columns), int(file.Rows)))


def check_run_lengths(frame: bytes, each: int, planes: int) -> None:
    """Raise ValueError unless each plane of bytes unfolds to as many as there are pixels.

    PS3.5 G.5: a head of sixteen numbers, how many segments and where each begins.
    """
    head = struct.unpack("<16L", frame[:64])
    if head[0] != planes:
        raise ValueError("not as many planes as bytes")
    ends = [*head[2 : planes + 1], len(frame)]
    for begin, end in zip(head[1 : planes + 1], ends, strict=True):
        unfolded = unfolded_length(frame[begin:end], each + 1)
        if not each <= unfolded <= each + 1:
            raise ValueError("unfolds to another size")


def unfolded_length(segment: bytes, most: int) -> int:
    """How many bytes run lengths unfold to; it stops counting beyond `most` (PS3.5 G.3.2)."""
    place, length, end = 0, 0, len(segment)
    while place < end - 1 and length <= most:
        code = segment[place]
        if code < 128:
            length += min(code + 1, end - place - 1)
            place += code + 2
        elif code > 128:
            length += 257 - code
            place += 2
        else:
            place += 1
    return length


def _check_within(frame: bytes, size: tuple[int, int]) -> None:
    from PIL import Image

    with Image.open(io.BytesIO(frame), formats=("JPEG", "JPEG2000")) as inner:
        if inner.size != size or len(inner.getbands()) != 1:
            raise ValueError("the picture within is another")

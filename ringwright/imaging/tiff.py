"""A TIFF with one picture in shades of grey, read, and written anew without its tags."""

from __future__ import annotations

import io
import math
import zlib
from typing import Any, Final

import numpy as np

from ringwright.core.errors import Refused
from ringwright.imaging.film import RESOLUTION, Film, Spacing, check_shape, spacing_of
from ringwright.imaging.quiet import quiet

WHAT: Final = "a TIFF"
NONE, DEFLATE = 1, (8, 32946)
"""Compression (TIFF 6.0, section 8; Adobe Photoshop TIFF Technical Notes for deflate)."""
WHITE_IS_ZERO, BLACK_IS_ZERO = 0, 1
MM_OF: Final = {2: 25.4, 3: 10.0}
"""ResolutionUnit (TIFF 6.0, section 8): inch, centimetre."""
A_SCREENS: Final = (72.0, 96.0)
"""Pixels an inch that programs write where nobody measured; no spacing is taken from them."""


def read_tiff(data: bytes, name: str) -> Film:
    """The radiograph in a TIFF; raises Refused in one sentence."""
    import tifffile

    with quiet(name, WHAT), tifffile.TiffFile(io.BytesIO(data)) as file:
        page = file.pages[0]
        if not isinstance(page, tifffile.TiffPage):
            raise ValueError("no page")
        check_shape(name, int(page.imagelength), int(page.imagewidth))
        _check_picture(file, page, name)
        _check_strips(page, data)
        stored = np.asarray(page.asarray())
        if stored.shape != (page.imagelength, page.imagewidth):
            raise ValueError("not as large as it says")
        native = stored.dtype.newbyteorder("=")
        return Film(
            stored=np.ascontiguousarray(stored, native),
            white_is_low=int(page.photometric) == WHITE_IS_ZERO,
            bits=int(page.bitspersample),
            spacing=_spacing(page),
        )


def _check_picture(file: Any, page: Any, name: str) -> None:
    grey = int(page.photometric) in (WHITE_IS_ZERO, BLACK_IS_ZERO)
    if not grey or int(page.samplesperpixel) != 1 or int(page.imagedepth) != 1:
        raise Refused(f"{name} is no picture in shades of grey; a radiograph is")
    if page.dtype is None or page.dtype.name not in ("uint8", "uint16"):
        raise Refused(f"{name} has values of another form than 8 or 16 bits; save it so")
    if int(page.compression) not in (NONE, *DEFLATE):
        raise Refused(
            f"{name} is packed in a way that is not read; save it uncompressed or with deflate"
        )
    try:
        file.pages[1]
    except IndexError:
        return
    raise Refused(f"{name} holds more than one picture; send the one that matters")


def _check_strips(page: Any, data: bytes) -> None:
    """Raise ValueError where a strip lies outside the file or unfolds to more than it is."""
    rows, columns = page.chunks[0], page.chunks[1]
    most = int(rows) * int(columns) * page.dtype.itemsize
    if most > 4 * max(page.nbytes, 1 << 16):
        raise ValueError("a tile is larger than the picture")
    spans = list(zip(page.dataoffsets, page.databytecounts, strict=True))
    if sum(count for _, count in spans) > len(data):
        raise ValueError("strips overlap")
    for offset, count in spans:
        if offset + count > len(data):
            raise ValueError("a strip lies outside the file")
        if int(page.compression) != NONE:
            unpacked = zlib.decompressobj().decompress(data[offset : offset + count], most + 1)
            if len(unpacked) > most:
                raise ValueError("a strip unfolds to more than it is")


def _spacing(page: Any) -> Spacing | None:
    unit = MM_OF.get(int(getattr(page, "resolutionunit", 1) or 1))
    across, down = page.resolution
    if unit is None or not (across > 0 and down > 0):
        return None
    if any(math.isclose(25.4 * across / unit, usual, rel_tol=1e-3) for usual in A_SCREENS):
        return None
    return spacing_of(unit / down, unit / across, RESOLUTION)


def write_tiff(film: Film) -> bytes:
    """A TIFF of the radiograph and of nothing else, packed by deflate; the same, the same
    bytes."""
    import tifffile

    kept = io.BytesIO()
    own: dict[str, Any] = {}
    if film.spacing is not None:
        across, down = 10 / film.spacing.column_mm, 10 / film.spacing.row_mm
        own = {"resolution": (across, down), "resolutionunit": "CENTIMETER"}
    tifffile.imwrite(
        kept,
        film.stored,
        photometric="miniswhite" if film.white_is_low else "minisblack",
        compression="zlib",
        metadata=None,
        software=False,
        **own,
    )
    return kept.getvalue()

"""A PNG in shades of grey, read as values."""

from __future__ import annotations

import io
import struct
from typing import Final

import numpy as np

from ringwright.core.errors import Refused
from ringwright.imaging.film import Film, check_shape
from ringwright.imaging.heads import is_deep, is_grey
from ringwright.imaging.quiet import quiet

WHAT: Final = "a PNG"


def read_png(data: bytes, name: str) -> Film:
    """The picture in a PNG; raises Refused in one sentence."""
    from PIL import Image

    with quiet(name, WHAT):
        columns, rows = struct.unpack(">II", data[16:24])
        check_shape(name, rows, columns)
        if not is_grey(data):
            raise Refused(f"{name} is no picture in shades of grey; a radiograph is")
        picture = Image.open(io.BytesIO(data), formats=("PNG",))
        picture.load()
        stored = np.asarray(picture)
        deep = is_deep(data)
        return Film(
            stored=stored.astype(np.uint16 if deep else np.uint8), bits=16 if deep else 8
        )


def write_png(film: Film) -> bytes:
    """A PNG of the values and of nothing else."""
    from PIL import Image

    kept = io.BytesIO()
    Image.fromarray(film.stored).save(kept, "PNG", compress_level=6)
    return kept.getvalue()

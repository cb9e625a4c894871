"""A radiograph out of whichever file it came in."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from ringwright.imaging.dicom import read_dicom, write_dicom
from ringwright.imaging.film import Film
from ringwright.imaging.png import read_png, write_png
from ringwright.imaging.tiff import read_tiff, write_tiff

READ: Final[dict[str, Callable[[bytes, str], Film]]] = {
    "application/dicom": read_dicom,
    "image/tiff": read_tiff,
    "image/png": read_png,
}
"""By media type (IANA; `application/dicom` RFC 3240, `image/tiff` RFC 3302)."""
WRITE: Final[dict[str, Callable[[Film], bytes]]] = {
    "application/dicom": write_dicom,
    "image/tiff": write_tiff,
    "image/png": write_png,
}


def read_film(data: bytes, media: str, name: str = "the radiograph") -> Film:
    """The radiograph in a file of that media type; raises Refused in one sentence."""
    return READ[media](data, name)


def anew(data: bytes, media: str, name: str) -> bytes:
    """The same values in a new file of the same kind, which holds nothing else."""
    return WRITE[media](read_film(data, media, name))

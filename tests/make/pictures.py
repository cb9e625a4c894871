"""Pictures, recordings and papers for tests, made by libraries that know the formats."""

from __future__ import annotations

import io
import wave

import numpy as np
from PIL import Image

PAPER = b"%PDF-1.7\n1 0 obj <<>> endobj\ntrailer <<>>\n%%EOF\n"
TABLE = b"t_s,x\n0.0,1.0\n0.1,0.5\n"


def photo(form: str = "JPEG", size: tuple[int, int] = (640, 480)) -> bytes:
    """A picture of a slope of greys, held sideways, with a camera's name and place in it."""
    greys = np.tile(np.linspace(0, 255, size[0], dtype=np.uint8), (size[1], 1))
    picture = Image.fromarray(np.dstack([greys, greys, greys]))
    said = Image.Exif()
    said[0x0112] = 6  # Orientation (Exif 2.3, 4.6.4): turn by 90 degrees to look at it
    said[0x010F] = "Camera of somebody"  # Make
    said.get_ifd(0x8825)[1] = "N"  # GPSLatitudeRef
    kept = io.BytesIO()
    picture.save(kept, form, exif=said)
    return kept.getvalue()


def tap(seconds: float = 0.05, rate_hz: int = 48_000) -> bytes:
    """A short mono recording, written by the standard library."""
    kept = io.BytesIO()
    with wave.open(kept, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes(np.zeros(int(seconds * rate_hz), dtype="<i2").tobytes())
    return kept.getvalue()

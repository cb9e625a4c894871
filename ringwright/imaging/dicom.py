"""A DICOM file with one picture in shades of grey, read, and written anew without its tags.

What is read: the values, the rescale, the windows and the spacing (PS3.3 C.7.6.3, C.11.1,
C.11.2, C.8.11.3). Names, dates, places and whatever else stands in the file are never looked
at, and are not in the file that is kept.
"""

from __future__ import annotations

import hashlib
import io
import math
from typing import Any, Final

import numpy as np

from ringwright.core.errors import Refused
from ringwright.imaging.encoded import check_encoded
from ringwright.imaging.film import (
    CALIBRATED,
    IMAGER,
    MOST_PRESETS,
    Film,
    Preset,
    Spacing,
    check_shape,
    spacing_of,
)
from ringwright.imaging.quiet import quiet

MOST_ELEMENTS: Final = 5_000
"""Elements of a file's outermost level; a radiograph has a hundred."""
READ: Final = (
    "SamplesPerPixel", "PhotometricInterpretation", "NumberOfFrames", "Rows", "Columns",
    "BitsAllocated", "BitsStored", "HighBit", "PixelRepresentation", "PlanarConfiguration",
    "RescaleSlope", "RescaleIntercept", "WindowCenter", "WindowWidth", "VOILUTFunction",
    "ModalityLUTSequence", "PixelSpacing", "ImagerPixelSpacing", "PixelData",
)  # fmt: skip
LINEAR: Final = ("", "LINEAR")
SECONDARY_CAPTURE: Final = "1.2.840.10008.5.1.4.1.1.7"
"""The class of a picture that says nothing of how it was taken (PS3.6, A)."""
WHAT: Final = "a DICOM picture"


def read_dicom(data: bytes, name: str) -> Film:
    """The radiograph in a DICOM file; raises Refused in one sentence."""
    with quiet(name, WHAT):
        file = _file(data, name)
        rows, columns = int(file.Rows), int(file.Columns)
        check_shape(name, rows, columns)
        _check_picture(file, name)
        check_encoded(file, name)
        stored = file.pixel_array
        if stored.shape != (rows, columns):
            raise ValueError("not as large as it says")
        return Film(
            stored=np.ascontiguousarray(stored),
            **_meaning(file, name),
            white_is_low=file.PhotometricInterpretation == "MONOCHROME1",
            bits=int(file.BitsStored),
            presets=_presets(file),
            spacing=_spacing(file),
        )


def _file(data: bytes, name: str) -> Any:
    from pydicom import config
    from pydicom.filereader import read_partial
    from pydicom.tag import Tag
    from pydicom.uid import DeflatedExplicitVRLittleEndian

    config.settings.reading_validation_mode = config.IGNORE
    if b"1.2.840.10008.1.2.1.99" in data:
        # Its whole data set unfolds before a word of it can be read.
        told = DeflatedExplicitVRLittleEndian.name
        raise Refused(f"{name} is packed whole ({told}); export it uncompressed or with RLE")
    seen = 0

    def count(*_element: Any) -> bool:
        nonlocal seen
        seen += 1
        if seen > MOST_ELEMENTS:
            raise Refused(f"{name} has more than {MOST_ELEMENTS} elements; export it again")
        return False

    wanted: list[Any] = [Tag(keyword) for keyword in READ]
    return read_partial(io.BytesIO(data), stop_when=count, specific_tags=wanted)


def _check_picture(file: Any, name: str) -> None:
    """One frame, one shade a pixel, 8 or 16 bits."""
    if "PixelData" not in file:
        raise Refused(f"{name} is a DICOM file without a picture in whole numbers")
    frames = int(file.get("NumberOfFrames") or 1)
    if frames != 1:
        raise Refused(f"{name} holds {frames} frames; send the one that matters")
    kind = str(file.get("PhotometricInterpretation", ""))
    if int(file.get("SamplesPerPixel", 1)) != 1 or not kind.startswith("MONOCHROME"):
        raise Refused(f"{name} is no picture in shades of grey; a radiograph is")
    if int(file.BitsAllocated) not in (8, 16):
        raise Refused(f"{name} has {int(file.BitsAllocated)} bits a pixel; 8 and 16 are read")


def _meaning(file: Any, name: str) -> dict[str, float]:
    """Slope and intercept; none is 1 and 0."""
    if "ModalityLUTSequence" in file:
        raise Refused(
            f"{name} tells its values by a table in place of slope and intercept, which is "
            "not read; export it with a rescale"
        )
    slope = float(file.get("RescaleSlope") or 1.0)
    intercept = float(file.get("RescaleIntercept") or 0.0)
    if not (1e-6 <= abs(slope) <= 1e6 and abs(intercept) <= 1e9):
        raise Refused(f"{name} has a rescale that no radiograph has; export it again")
    return {"slope": slope, "intercept": intercept}


def _presets(file: Any) -> tuple[Preset, ...]:
    """Its windows, where it means the linear function and they can be ones."""
    if str(file.get("VOILUTFunction", "") or "") not in LINEAR:
        return ()
    pairs = zip(_many(file, "WindowCenter"), _many(file, "WindowWidth"), strict=False)
    fits = (
        Preset(level=level, window=window)
        for level, window in pairs
        if math.isfinite(level) and 1.0 <= window <= 1e9 and abs(level) <= 1e9
    )
    return tuple(fits)[:MOST_PRESETS]


def _many(file: Any, keyword: str) -> list[float]:
    found = file.get(keyword)
    if found is None:
        return []
    several = isinstance(found, str | float | int)
    return [float(one) for one in ([found] if several else found)]


def _spacing(file: Any) -> Spacing | None:
    """Pixel Spacing where it stands, else that of the imager: row first (PS3.3 10.7.1.3)."""
    for keyword, source in (("PixelSpacing", CALIBRATED), ("ImagerPixelSpacing", IMAGER)):
        both = _many(file, keyword)
        found = spacing_of(both[0], both[1], source) if len(both) == 2 else None
        if found is not None:
            return found
    return None


def write_dicom(film: Film) -> bytes:
    """A DICOM file of the radiograph and of nothing else; the same radiograph, the same bytes.

    Explicit VR Little Endian, uncompressed: any reader of DICOM can open it.
    """
    from pydicom.dataset import Dataset, FileMetaDataset
    from pydicom.uid import ExplicitVRLittleEndian

    little = np.ascontiguousarray(film.stored, film.stored.dtype.newbyteorder("<"))
    pixels = little.tobytes()
    own = Dataset()
    own.SOPClassUID = SECONDARY_CAPTURE
    own.Modality, own.ConversionType = "OT", "WSD"
    own.SamplesPerPixel = 1
    own.PhotometricInterpretation = "MONOCHROME1" if film.white_is_low else "MONOCHROME2"
    own.Rows, own.Columns = film.rows, film.columns
    own.BitsAllocated = 8 * film.stored.dtype.itemsize
    own.BitsStored = min(film.bits, own.BitsAllocated)
    own.HighBit = own.BitsStored - 1
    own.PixelRepresentation = int(film.stored.dtype.kind == "i")
    own.RescaleSlope, own.RescaleIntercept = _decimal(film.slope), _decimal(film.intercept)
    own.RescaleType = "US"
    if film.presets:
        own.WindowCenter = [_decimal(one.level) for one in film.presets]
        own.WindowWidth = [_decimal(one.window) for one in film.presets]
    if film.spacing is not None:
        both = [_decimal(film.spacing.row_mm), _decimal(film.spacing.column_mm)]
        setattr(own, _FIELD.get(film.spacing.source, "PixelSpacing"), both)
    # As PS3.5 B.2 makes an identifier of a UUID, here of the content, so that it has no date.
    said = hashlib.sha256(own.to_json().encode() + pixels).digest()
    own.SOPInstanceUID = f"2.25.{int.from_bytes(said[:16], 'big')}"
    own.PixelData = pixels + b"\0" * (len(pixels) % 2)
    own["PixelData"].VR = "OB" if own.BitsAllocated == 8 else "OW"
    own.file_meta = FileMetaDataset()
    own.file_meta.TransferSyntaxUID = ExplicitVRLittleEndian
    kept = io.BytesIO()
    own.save_as(kept, enforce_file_format=True)
    return kept.getvalue()


_FIELD: Final = {IMAGER: "ImagerPixelSpacing", CALIBRATED: "PixelSpacing"}


def _decimal(value: float) -> str:
    """A decimal string of at most 16 letters (PS3.5 6.2)."""
    from pydicom.valuerep import format_number_as_ds

    return format_number_as_ds(float(value))

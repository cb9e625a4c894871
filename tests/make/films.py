"""Radiographs for tests, made by the libraries that know the formats; values are seeded."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.uid import UID, ExplicitVRLittleEndian, RLELossless, generate_uid

from ringwright.attachments.content import judged
from ringwright.bench.attaching import Attach
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor

WHO = "Somebody^Real"
"""What must never be shown, logged or kept."""
WINDOWS: dict[str, Any] = {"WindowCenter": [2048, 900], "WindowWidth": [4096, 400]}
SPACED: dict[str, Any] = {"ImagerPixelSpacing": ["0.2", "0.1"]}


def weld(
    rows: int = 48, columns: int = 64, dtype: str = "<u2", top: int = 4096
) -> NDArray[Any]:
    """A bright seam with a dark pore and some noise."""
    random = np.random.default_rng(7)
    across = np.exp(-(((np.arange(columns) - columns / 2) / (columns / 6)) ** 2))
    values = np.tile(across, (rows, 1)) * top * 0.6 + random.uniform(
        0, top * 0.3, (rows, columns)
    )
    values[rows // 2 : rows // 2 + 3, columns // 2 : columns // 2 + 3] *= 0.3
    return values.astype(dtype)


def dicom(
    values: NDArray[Any] | None = None, syntax: str = ExplicitVRLittleEndian, **own: Any
) -> bytes:
    """A DICOM file of these values, with a name in it that is nobody's business."""
    values = weld() if values is None else values
    made = Dataset()
    made.file_meta = FileMetaDataset()
    packed = syntax == RLELossless
    made.file_meta.TransferSyntaxUID = UID(ExplicitVRLittleEndian if packed else syntax)
    made.SOPClassUID, made.SOPInstanceUID = "1.2.840.10008.5.1.4.1.1.7", generate_uid()
    made.PatientName, made.PatientID, made.InstitutionName = WHO, "ID-77-1", "Somewhere"
    made.SamplesPerPixel, made.PhotometricInterpretation = 1, "MONOCHROME2"
    made.Rows, made.Columns = values.shape
    made.BitsAllocated = 8 * values.dtype.itemsize
    made.BitsStored, made.HighBit = made.BitsAllocated, made.BitsAllocated - 1
    made.PixelRepresentation = int(values.dtype.kind == "i")
    made.PixelData = values.tobytes()
    made["PixelData"].VR = "OB" if made.BitsAllocated == 8 else "OW"
    for name, value in own.items():
        setattr(made, name, value)
    if syntax == RLELossless:
        made.compress(RLELossless)
    kept = io.BytesIO()
    made.save_as(kept, enforce_file_format=True)
    return kept.getvalue()


def tiff(values: NDArray[Any] | None = None, **own: Any) -> bytes:
    """A TIFF of these values, with a description in it."""
    kept = io.BytesIO()
    given: dict[str, Any] = {"photometric": "minisblack", "description": WHO, **own}
    tifffile.imwrite(kept, weld() if values is None else values, **given)
    return kept.getvalue()


def deep_png(values: NDArray[Any] | None = None) -> bytes:
    """A PNG of 16 bits in shades of grey."""
    kept = io.BytesIO()
    Image.fromarray(weld() if values is None else values).save(kept, "PNG")
    return kept.getvalue()


FILM = judged(dicom(**WINDOWS, **SPACED))
"""One that pages show; what is kept of it is the same each time."""
INSPECTOR = Actor(code="insp-1", roles=frozenset({"inspector"}))


def attach_film(
    ledger: Ledger, site: str, serial: str, shows: str = "pore in the weld"
) -> None:
    """Let a part have it."""
    order = Attach(content=FILM, key=f"film-{site}", serial=serial, shows=shows)
    ledger.execute(site, order, INSPECTOR)

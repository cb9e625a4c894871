"""Every value of a radiograph is read and kept; whatever else stands in its file is not."""

from __future__ import annotations

import io
import random
import struct
from typing import Any

import numpy as np
import pydicom
import pytest
import tifffile
from PIL import Image
from pydicom.encaps import encapsulate
from pydicom.pixels.processing import apply_modality_lut
from pydicom.uid import (
    DeflatedExplicitVRLittleEndian,
    ImplicitVRLittleEndian,
    JPEG2000Lossless,
    JPEGLSLossless,
    RLELossless,
)

from ringwright.core.errors import Refused
from ringwright.imaging import film as film_rules
from ringwright.imaging.encoded import check_run_lengths, unfolded_length
from ringwright.imaging.film import Preset
from ringwright.imaging.reading import anew, read_film
from tests.make.films import SPACED, WHO, WINDOWS, deep_png, dicom, tiff, weld

NOISE = bytes(128) + b"DICM" + bytes(range(256)) * 40
COLOURS = np.dstack([weld()] * 3)
DICOM, TIFF, PNG = "application/dicom", "image/tiff", "image/png"


@pytest.mark.parametrize(
    ("data", "media", "values"),
    [
        (dicom(), DICOM, weld()),
        (dicom(syntax=ImplicitVRLittleEndian), DICOM, weld()),
        (dicom(syntax=RLELossless), DICOM, weld()),
        (dicom(weld(dtype="u1", top=256)), DICOM, weld(dtype="u1", top=256)),
        (dicom(weld(rows=7, columns=9, dtype="u1", top=256)), DICOM, weld(7, 9, "u1", 256)),
        (dicom(weld(dtype="<i2") - 900), DICOM, weld(dtype="<i2") - 900),
        (tiff(), TIFF, weld()),
        (tiff(byteorder=">"), TIFF, weld()),
        (tiff(compression="zlib", predictor=True), TIFF, weld()),
        (tiff(tile=(16, 16)), TIFF, weld()),
        (tiff(weld(dtype="u1", top=256)), TIFF, weld(dtype="u1", top=256)),
        (deep_png(), PNG, weld()),
    ],
)
def test_every_value_is_kept_and_nothing_else_of_the_file(
    data: bytes, media: str, values: Any
) -> None:
    kept = anew(data, media, "x")

    assert (read_film(kept, media).stored == values).all()
    assert WHO.encode() not in kept
    assert b"ID-77-1" not in kept
    assert anew(kept, media, "x") == kept  # twice attached is once kept


def test_others_read_what_is_kept_as_they_read_what_was_sent() -> None:
    sent = dicom(**WINDOWS, **SPACED, RescaleSlope="0.5", RescaleIntercept="-100")
    theirs, ours = (pydicom.dcmread(io.BytesIO(one)) for one in (sent, anew(sent, DICOM, "x")))

    assert (apply_modality_lut(ours.pixel_array, ours)
            == apply_modality_lut(theirs.pixel_array, theirs)).all()  # fmt: skip
    for name in (*WINDOWS, *SPACED):
        assert ours[name].value == theirs[name].value
    assert "PatientName" not in ours
    read = read_film(sent, DICOM)
    assert read.values() == pytest.approx(apply_modality_lut(theirs.pixel_array, theirs))
    assert (tifffile.imread(io.BytesIO(anew(tiff(), TIFF, "x"))) == weld()).all()
    assert (np.asarray(Image.open(io.BytesIO(anew(deep_png(), PNG, "x")))) == weld()).all()


def test_windows_spacing_and_which_value_is_white_come_from_the_file() -> None:
    film = read_film(dicom(**WINDOWS, **SPACED, PhotometricInterpretation="MONOCHROME1"), DICOM)

    assert film.presets == (Preset(2048, 4096), Preset(900, 400))
    assert film.first == Preset(2048, 4096)
    assert film.spacing is not None
    assert (film.spacing.row_mm, film.spacing.column_mm) == (0.2, 0.1)
    assert film.white_is_low
    assert read_film(tiff(photometric="miniswhite"), TIFF).white_is_low
    assert read_film(dicom(**WINDOWS, VOILUTFunction="SIGMOID"), DICOM).presets == ()


def test_a_tiffs_resolution_is_its_spacing_unless_no_one_measured_it() -> None:
    scanned = read_film(tiff(resolution=(500, 250), resolutionunit="INCH"), TIFF).spacing

    assert scanned is not None
    assert scanned.column_mm == pytest.approx(0.0508)
    assert scanned.row_mm == pytest.approx(0.1016)
    assert read_film(tiff(resolution=(72, 72), resolutionunit="INCH"), TIFF).spacing is None
    assert read_film(tiff(), TIFF).spacing is None


@pytest.mark.parametrize(
    "bad", [["0", "0.1"], ["-1", "0.1"], ["1000", "1000"], ["0.1"], ["nan", "0.1"]]
)
def test_a_spacing_that_cannot_be_one_is_none(bad: list[str]) -> None:
    assert read_film(dicom(ImagerPixelSpacing=bad), DICOM).spacing is None


def _deflated() -> bytes:
    file = pydicom.dcmread(io.BytesIO(dicom()))
    file.file_meta.TransferSyntaxUID = DeflatedExplicitVRLittleEndian
    kept = io.BytesIO()
    file.save_as(kept, enforce_file_format=True)
    return kept.getvalue()


def _packed_otherwise() -> bytes:
    file = pydicom.dcmread(io.BytesIO(dicom(syntax=RLELossless)))
    file.file_meta.TransferSyntaxUID = JPEGLSLossless
    kept = io.BytesIO()
    file.save_as(kept, enforce_file_format=True)
    return kept.getvalue()


@pytest.mark.parametrize(
    ("data", "media", "told"),
    [
        (dicom(NumberOfFrames=2), DICOM, "holds 2 frames"),
        (dicom(SamplesPerPixel=3), DICOM, "no picture in shades of grey"),
        (dicom(PhotometricInterpretation="RGB"), DICOM, "no picture in shades of grey"),
        (dicom(Rows=9000, Columns=9000), DICOM, "9000 by 9000 pixels"),
        (dicom(Rows=49), DICOM, "cannot be decoded"),
        (dicom(RescaleSlope="0.0000000001"), DICOM, "rescale that no radiograph has"),
        (dicom()[:400], DICOM, "without a picture|cannot be decoded"),
        (_deflated(), DICOM, "packed whole"),
        (_packed_otherwise(), DICOM, "not read .JPEG-LS"),
        (NOISE, DICOM, "without a picture|cannot be decoded"),
        (tiff(weld(dtype="<f4")), TIFF, "another form than 8 or 16 bits"),
        (tiff(np.stack([weld()] * 2)), TIFF, "more than one picture"),
        (tiff(COLOURS, photometric="rgb"), TIFF, "no picture in shades of grey"),
        (tiff()[:60], TIFF, "cannot be decoded"),
        (b"II*\x00" + b"\xff" * 60, TIFF, "cannot be decoded"),
        (deep_png()[:90], PNG, "cannot be decoded"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_in_one_line_without_its_words(
    data: bytes, media: str, told: str, caplog: pytest.LogCaptureFixture
) -> None:
    with pytest.raises(Refused, match=told) as refusal:
        read_film(data, media, "film.dcm")

    assert refusal.value.message.startswith("film.dcm ")
    assert "\n" not in refusal.value.message
    assert WHO not in refusal.value.message + caplog.text


def test_thousands_of_elements_are_not_walked_through(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ringwright.imaging.dicom.MOST_ELEMENTS", 5)

    with pytest.raises(Refused, match="more than 5 elements"):
        read_film(dicom(), DICOM)


def _rows(tag: int, rows: int) -> bytes:
    """One field of a TIFF's directory (TIFF 6.0, section 2): tag, LONG, one value."""
    return struct.pack("<HHII", tag, 4, 1, rows)


def _within(values: Any) -> bytes:
    """A DICOM file whose picture is packed as JPEG 2000 by Pillow."""
    inner = io.BytesIO()
    Image.fromarray(values).save(inner, "JPEG2000", irreversible=False, no_jp2=True)
    file = pydicom.dcmread(io.BytesIO(dicom()))
    file.PixelData = encapsulate([inner.getvalue()])
    file.file_meta.TransferSyntaxUID = JPEG2000Lossless
    file["PixelData"].VR = "OB"
    kept = io.BytesIO()
    file.save_as(kept, enforce_file_format=True)
    return kept.getvalue()


def test_jpeg_2000_is_read_where_its_own_head_says_the_same_size() -> None:
    assert (read_film(_within(weld()), DICOM).stored == weld()).all()
    with pytest.raises(Refused, match="cannot be decoded"):
        read_film(_within(weld(rows=480)), DICOM)


def test_what_unfolds_to_more_than_it_says_is_not_unfolded(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # PS3.5 G.3.1: a code of 129 repeats the next byte 128 times.
    bomb = b"\x81\x00" * 1_000_000
    assert unfolded_length(bomb, 3_000) <= 3_000 + 128
    assert unfolded_length(b"\x02abc\xfex\x80", 100) == 6  # worked by hand from G.3.2
    with pytest.raises(ValueError, match="another size"):
        check_run_lengths(struct.pack("<16L", 1, 64, *[0] * 14) + bomb, 3_000, 1)
    flat = tiff(np.zeros((1000, 1000), "u1"), compression="zlib")
    lying = flat.replace(_rows(257, 1000), _rows(257, 2)).replace(
        _rows(278, 1000), _rows(278, 2)
    )
    assert lying != flat
    with pytest.raises(Refused, match="cannot be decoded"):
        read_film(lying, TIFF)
    monkeypatch.setattr(film_rules, "MOST_PIXELS", 100)
    with pytest.raises(Refused, match="crop it"):
        read_film(deep_png(), PNG)


@pytest.mark.parametrize(
    ("data", "media"),
    [
        (dicom(**WINDOWS, **SPACED), DICOM),
        (dicom(syntax=RLELossless), DICOM),
        (_within(weld()), DICOM),
        (tiff(), TIFF),
        (tiff(compression="zlib", predictor=True), TIFF),
        (deep_png(), PNG),
    ],
)
def test_a_damaged_file_is_read_or_refused_and_nothing_else(data: bytes, media: str) -> None:
    dice = random.Random(20)
    for _ in range(60):
        hurt = bytearray(data)
        for _ in range(dice.randrange(1, 12)):
            # Heads are where a file says how large it is.
            place = dice.randrange(min(len(hurt), dice.choice((300, 1200, len(hurt)))))
            hurt[place] = dice.randrange(256)
        if dice.random() < 0.2:
            del hurt[dice.randrange(len(hurt)) :]
        try:
            film = read_film(bytes(hurt), media, "film")
        except Refused as refusal:
            assert WHO not in refusal.message  # noqa: PT017
        else:
            assert film.stored.size == film.rows * film.columns
            assert WHO.encode() not in anew(bytes(hurt), media, "film")

"""The Data Matrix of an assembly sheet is read back by a reader of other hands.

Source: ISO/IEC 16022 (Data Matrix, ECC 200: finder pattern, quiet zone of one module), read
with zxing-cpp, a general-purpose library that shares nothing with what draws the symbol.
"""

from __future__ import annotations

import re

import numpy as np
import numpy.typing as npt
import pytest
import zxingcpp

from ringwright.kit.datamatrix import QUIET, Mark, mark_of

SQUARE = re.compile(r"M(\d+) (\d+)h1v1h-1z")
PIXELS = 8
SERIALS = ("RB-1", "B22-01619", "0012345678", "HB-4015/A", "X" * 40)


def modules_of(mark: Mark) -> npt.NDArray[np.uint8]:
    """The path as it is painted: 0 for a dark module, 255 for a light one."""
    found = np.full((mark.side, mark.side), 255, dtype=np.uint8)
    for x, y in SQUARE.findall(mark.path):
        found[int(y), int(x)] = 0
    return found


def mark(text: str) -> Mark:
    """The symbol of a text that has one."""
    made = mark_of(text)
    assert made is not None
    return made


def read_back(modules: npt.NDArray[np.uint8]) -> list[str]:
    """What a reader finds in the symbol on a white sheet."""
    square = np.ones((PIXELS, PIXELS), dtype=np.uint8)
    sheet = np.pad(np.kron(modules, square), 4 * PIXELS, constant_values=255)
    found = zxingcpp.read_barcodes(sheet)
    assert {one.format for one in found} <= {zxingcpp.BarcodeFormat.DataMatrix}
    return [one.text for one in found]


@pytest.mark.parametrize("serial", SERIALS)
def test_a_mark_reads_as_the_plain_serial(serial: str) -> None:
    assert read_back(modules_of(mark(serial))) == [serial]


@pytest.mark.parametrize("serial", SERIALS)
def test_a_mark_is_nothing_but_unit_squares(serial: str) -> None:
    assert SQUARE.sub("", mark(serial).path) == ""


@pytest.mark.parametrize("serial", SERIALS)
def test_one_light_module_is_kept_round_the_finder_pattern(serial: str) -> None:
    modules = modules_of(mark(serial))

    assert QUIET == 1
    rim = (modules[0], modules[-1], modules[:, 0], modules[:, -1])
    assert all((side == 255).all() for side in rim)
    # The solid left and lower sides of the finder pattern lie right inside it.
    assert (modules[1:-1, 1] == 0).all()
    assert (modules[-2, 1:-1] == 0).all()


def test_another_serial_is_another_mark() -> None:
    assert mark("RB-1").path != mark("RB-2").path


def test_a_spoiled_mark_is_not_read_as_its_serial() -> None:
    modules = modules_of(mark("B22-01619"))
    modules[2:-2, 2:-2] = 255

    assert read_back(modules) != ["B22-01619"]


@pytest.mark.parametrize("text", ["Läufer-1", "шайба", "X" * 4000])
def test_what_no_symbol_holds_has_none(text: str) -> None:
    assert mark_of(text) is None

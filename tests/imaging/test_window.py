"""Values become shades as the standard says, and as others' libraries do."""

from __future__ import annotations

import numpy as np
import pytest
from pydicom.dataset import Dataset
from pydicom.pixels.processing import apply_windowing

from ringwright.imaging.film import Film
from ringwright.imaging.window import windowed

VALUES = np.arange(4096, dtype=np.uint16).reshape(64, 64)


def theirs(level: float, window: float) -> np.ndarray:
    """Shades from 0 to 255 by pydicom, which writes them from 0 to 4095 for 12 bits."""
    asked = Dataset()
    asked.PhotometricInterpretation = "MONOCHROME2"
    asked.BitsStored, asked.PixelRepresentation = 12, 0
    asked.WindowCenter, asked.WindowWidth = level, window
    return np.asarray(apply_windowing(VALUES, asked)) / 4095 * 255


@pytest.mark.parametrize(
    ("level", "window"),
    [(2048, 4096), (1000, 300), (0.5, 1), (40, 2), (4000, 800.5), (-50, 400)],
)
def test_the_linear_function_is_that_of_the_standard_as_pydicom_has_it(
    level: float, window: float
) -> None:
    # pydicom.pixels.apply_windowing implements PS3.3 C.11.2.1.2.1.
    assert windowed(VALUES, level, window) == pytest.approx(theirs(level, window), abs=0.01)


def test_the_standards_own_example() -> None:
    # PS3.3 C.11.2.1.2.1, note: c = 2048, w = 4096 becomes y = ((x - 2047.5) / 4095 + 0.5) * ...
    for x in (0, 1, 1000, 2047, 4095):
        expected = ((x - 2047.5) / 4095 + 0.5) * 255
        assert float(windowed(np.array([x]), 2048, 4096)[0]) == pytest.approx(
            expected, abs=1e-3
        )
    # ... and c = 2048, w = 1: black up to 2047, white from 2048 on.
    assert windowed(np.array([2047, 2048]), 2048, 1).tolist() == [0, 255]


def test_the_usual_window_leaves_out_one_value_in_a_hundred() -> None:
    stored = np.arange(10_000, dtype=np.uint16).reshape(100, 100)

    usual = Film(stored=stored).usual

    # numpy.percentile of 0.5 and 99.5, by linear interpolation, worked by hand.
    assert usual.window == pytest.approx(0.99 * 9999 + 1)
    assert usual.level == pytest.approx(9999 / 2 + 0.5)


def test_the_whole_window_begins_at_the_least_and_ends_at_the_largest_value() -> None:
    film = Film(stored=np.array([[10, 500]], dtype=np.uint16), slope=2.0, intercept=-5.0)

    shades = windowed(film.values(), film.whole.level, film.whole.window)

    assert shades.tolist() == [[0.0, 255.0]]

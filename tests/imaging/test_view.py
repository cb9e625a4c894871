"""What is shown is the part that was asked for; what is measured is what lies between."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from PIL import Image

from ringwright.core.errors import Refused
from ringwright.imaging.distance import Point, distance_of
from ringwright.imaging.film import Film, Spacing
from ringwright.imaging.view import View, counts_of, drawn, size_of
from ringwright.imaging.window import windowed
from tests.make.films import weld

FILM = Film(stored=weld(), bits=12)
WHOLE = View(level=2048, window=4096)
SQUARE = Spacing(row_mm=0.1, column_mm=0.1, source="imager")


def shades(film: Film, view: View, size: tuple[int, int] | None = None) -> np.ndarray:
    picture = Image.open(io.BytesIO(drawn(film, view, size)))
    assert picture.mode == "L"
    return np.asarray(picture)


def test_a_part_is_drawn_pixel_for_pixel_where_it_is_not_scaled() -> None:
    part = View(level=2048, window=4096, left=8, top=4, across=16, down=12)

    found = shades(FILM, part, (16, 12))

    expected = np.rint(windowed(weld()[4:16, 8:24], 2048, 4096))
    assert (found == expected).all()


def test_enlarged_each_pixel_is_repeated_and_reduced_values_are_averaged() -> None:
    large = shades(FILM, WHOLE)
    assert size_of(WHOLE.on(FILM), FILM) == (1024, 768)
    assert (large[::16, ::16] == np.rint(windowed(weld(), 2048, 4096))).all()

    small = shades(FILM, WHOLE, (32, 24))
    means = weld().reshape(24, 2, 32, 2).mean(axis=(1, 3), dtype=float)
    assert np.abs(small - windowed(means, 2048, 4096)).max() <= 1


def test_turned_or_white_where_low_each_shade_is_the_other_way_round() -> None:
    plain = shades(FILM, WHOLE)
    turned = View(level=2048, window=4096, turned=True)
    low = Film(stored=weld(), white_is_low=True)

    assert (shades(FILM, turned) == 255 - plain.astype(int)).all()
    assert (shades(low, WHOLE) == shades(FILM, turned)).all()
    assert (shades(low, turned) == plain).all()


@pytest.mark.parametrize("place", [-50, 0, 60, 10_000_000])
def test_a_part_stays_within_the_picture(place: int) -> None:
    view = View(level=0, window=1, left=place, top=place, across=20, down=20).on(FILM)

    assert (view.across, view.down) == (20, 20)
    assert 0 <= view.left <= 44
    assert 0 <= view.top <= 28


def test_oblong_pixels_are_drawn_oblong() -> None:
    film = Film(stored=weld(), spacing=Spacing(row_mm=0.2, column_mm=0.1, source="imager"))

    wide, high = size_of(WHOLE.on(film), film)

    assert high / wide == pytest.approx(48 * 2 / 64, rel=0.01)


def test_every_pixel_of_the_part_is_counted_once() -> None:
    counts = counts_of(FILM, WHOLE)

    assert sum(bar.pixels for bar in counts.bars) == weld().size
    assert (counts.least, counts.largest) == (weld().min(), weld().max())
    # numpy as reference for the mean of the values themselves.
    assert counts.mean == pytest.approx(float(np.mean(weld())), rel=1e-6)
    assert counts_of(Film(stored=np.zeros((9, 9), "u1")), WHOLE).bars[0].pixels == 81


def test_a_value_is_slope_times_what_is_stored_and_more() -> None:
    film = Film(stored=weld(), slope=0.5, intercept=-3.0)

    assert film.value_at(5, 7) == int(weld()[5, 7]) * 0.5 - 3.0
    with pytest.raises(Refused, match="outside the picture of 64 by 48"):
        film.value_at(48, 0)


def test_a_distance_is_pythagoras_in_mm_with_a_pixel_of_doubt() -> None:
    found = distance_of(Point(10, 10), Point(40, 50), SQUARE)

    assert found.mm == pytest.approx(5.0)
    assert (found.px, found.doubt_mm) == (50.0, 0.1)
    oblong = Spacing(row_mm=0.2, column_mm=0.1, source="imager")
    assert distance_of(Point(0, 0), Point(3, 2), oblong).mm == pytest.approx(0.5)
    assert distance_of(Point(0, 0), Point(3, 4), oblong).doubt_mm == 0.2
    assert distance_of(Point(0, 0), Point(3, 4), None).mm is None
    assert math.isclose(distance_of(Point(0, 0), Point(3, 4), None).px, 5.0)

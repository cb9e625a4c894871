"""What is drawn of a channel has every peak and every gap of it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.heat.thinning import thinned
from ringwright.heat.trace import Floats

SEEDS, BUCKETS = st.integers(0, 2**32), st.integers(1, 30)


def a_channel(seed: int) -> tuple[Floats, Floats]:
    """Up to 300 readings at odd times, many of them alike, with blanks single and in rows."""
    random = np.random.default_rng(seed)
    size = int(random.integers(1, 300))
    values = random.integers(-9, 9, size).astype(float)
    values[random.random(size) < random.choice([0.0, 0.05, 0.5])] = np.nan
    begin, end = sorted(random.integers(0, size + 1, 2))
    values[begin:end] = np.nan if random.random() < 0.5 else values[begin:end]
    return np.cumsum(random.integers(1, 9, size)).astype(float), values


def by_pixel(at: Floats, values: Floats, whole: Floats, buckets: int) -> pd.DataFrame:
    """Extremes of each pixel by pandas, the pixels cut from the whole run's seconds."""
    since, span = (at - whole[0]).astype(int), max(int(whole[-1] - whole[0]), 1)
    pixel = np.minimum(since * buckets // span, buckets - 1)
    return (
        pd.DataFrame({"pixel": pixel, "value": values})
        .groupby("pixel")["value"]
        .agg(["first", "last", "min", "max"])
    )


@settings(max_examples=200)
@given(SEEDS, BUCKETS)
def test_each_pixel_keeps_its_extremes_and_its_ends(seed: int, buckets: int) -> None:
    at, values = a_channel(seed)

    thin_at, thin = thinned(at, values, buckets)

    expected = by_pixel(at, values, at, buckets).dropna()
    found = by_pixel(thin_at, thin, at, buckets).dropna()
    pd.testing.assert_frame_equal(found, expected)


@settings(max_examples=200)
@given(SEEDS, BUCKETS)
def test_what_is_drawn_was_read_then_and_stands_in_order(seed: int, buckets: int) -> None:
    at, values = a_channel(seed)

    thin_at, thin = thinned(at, values, buckets)

    assert np.all(np.diff(thin_at) > 0)
    np.testing.assert_array_equal(values[np.searchsorted(at, thin_at)], thin)
    assert (thin_at[0], thin_at[-1]) == (at[0], at[-1])


@settings(max_examples=200)
@given(SEEDS, BUCKETS)
def test_the_line_breaks_where_the_recorder_did_and_nowhere_else(
    seed: int, buckets: int
) -> None:
    at, values = a_channel(seed)

    thin_at, thin = thinned(at, values, buckets)

    places = np.searchsorted(at, thin_at)
    drawn = np.flatnonzero(~np.isnan(thin))
    for one, other in pairwise(drawn):
        was_broken = bool(np.isnan(values[places[one] : places[other]]).any())
        assert bool(np.isnan(thin[one:other]).any()) == was_broken


@settings(max_examples=200)
@given(SEEDS, BUCKETS)
def test_no_more_is_drawn_than_the_screen_can_show(seed: int, buckets: int) -> None:
    at, values = a_channel(seed)

    _, thin = thinned(at, values, buckets)

    assert np.count_nonzero(~np.isnan(thin)) <= 4 * buckets
    assert thin.size <= 8 * buckets + 2


def test_a_single_spike_in_twelve_hours_is_drawn() -> None:
    at = np.arange(43_200.0)
    values = np.full(at.size, 920.0)
    values[31_337] = 931.0

    thin_at, thin = thinned(at, values, 800)

    assert thin.size <= 3201
    assert thin_at[np.argmax(thin)] == 31_337


def test_a_short_run_is_drawn_whole() -> None:
    at, values = np.arange(8.0), np.array([1, 2, np.nan, 4, 5, 6, 7, 8.0])

    thin_at, thin = thinned(at, values, 2)

    np.testing.assert_array_equal(thin_at, at)
    np.testing.assert_array_equal(thin, values)


def test_a_channel_that_read_nothing_keeps_the_ends_of_its_time() -> None:
    thin_at, thin = thinned(np.arange(100.0), np.full(100, np.nan), 5)

    assert list(thin_at) == [0, 99]
    assert np.isnan(thin).all()


def test_infinite_readings_are_gaps() -> None:
    values = np.ones(100)
    values[50] = np.inf

    thin_at, thin = thinned(np.arange(100.0), values, 5)

    assert np.isnan(thin[thin_at == 50]).all()
    assert np.nanmax(thin) == 1.0


@pytest.mark.parametrize(("times", "buckets"), [(5, 0), (4, 3)])
def test_nonsense_is_an_error(times: int, buckets: int) -> None:
    with pytest.raises(ValueError, match="bucket"):
        thinned(np.arange(float(times)), np.arange(5.0), buckets)

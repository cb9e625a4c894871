"""A run laid out minute by minute, against pandas and by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ringwright.heat.minutes import FEATURES, HELD_MIN, LONGEST_MIN, minute_by_minute
from ringwright.heat.trace import Trace


def test_pandas_resamples_alike() -> None:
    """Right-closed minutes of a recorder that logs every seven seconds, with blanks."""
    random = np.random.default_rng(2)
    at = np.arange(0.0, 3600.0, 7.0)
    table = pd.DataFrame(
        random.normal(900, 5, (at.size, 3)),
        columns=["tc1_c", "tc2_c", "pressure_kpa"],
        index=pd.to_timedelta(at, unit="s"),
    )
    table.iloc[30:34, 0] = np.nan
    means = table.resample("1min", closed="right", label="right").mean()

    found = minute_by_minute(
        Trace(
            at_s=1.79e9 + at,
            temperatures_c={one: table[one].to_numpy() for one in ("tc1_c", "tc2_c")},
            pressure_kpa=table["pressure_kpa"].to_numpy(),
        )
    )

    assert len(found) == 60  # the sixtieth minute is not over at 3,598 s
    both = means[["tc1_c", "tc2_c"]].iloc[:60]
    np.testing.assert_allclose(found[:, 0], both.min(axis=1), rtol=1e-12)
    np.testing.assert_allclose(found[:, 1], both.max(axis=1), rtol=1e-12)
    np.testing.assert_allclose(found[:, 2], both.max(axis=1) - both.min(axis=1), rtol=1e-9)
    np.testing.assert_allclose(found[:, 3], means["pressure_kpa"].iloc[:60], rtol=1e-12)


def test_a_minute_that_is_not_over_is_not_told() -> None:
    at = np.array([0.0, 60.0, 120.0, 170.0])
    trace = Trace(at_s=at, temperatures_c={"tc1_c": np.array([20.0, 30.0, 40.0, 99.0])})

    found = minute_by_minute(trace)

    np.testing.assert_array_equal(found[:, 0], [20, 30, 40])
    assert np.isnan(found[:, 3]).all()


def test_a_reading_a_moment_late_belongs_to_its_minute() -> None:
    at = np.array([0.0, 60.3, 119.8, 180.2])
    trace = Trace(at_s=at, temperatures_c={"tc1_c": np.array([20.0, 30.0, 40.0, 50.0])})

    np.testing.assert_array_equal(minute_by_minute(trace)[:, 0], [20, 30, 40, 50])


def test_a_slow_recorder_is_no_gap_but_a_long_silence_is() -> None:
    at = np.array([0.0, 300.0, 600.0, 1800.0])
    trace = Trace(at_s=at, temperatures_c={"tc1_c": np.array([1.0, 2.0, 3.0, 4.0])})

    found = minute_by_minute(trace)[:, 0]

    np.testing.assert_array_equal(found[:10], [1] * 5 + [2] * 5)
    np.testing.assert_array_equal(found[10 : 10 + HELD_MIN + 1], [3] * (HELD_MIN + 1))
    assert np.isnan(found[11 + HELD_MIN : 30]).all()
    assert found[30] == 4


def test_a_blank_thermocouple_leaves_the_others_to_speak() -> None:
    at = np.array([0.0, 60.0, 120.0, 180.0])
    trace = Trace(
        at_s=at, temperatures_c={"tc1_c": np.full(4, np.nan), "tc2_c": np.full(4, 900.0)}
    )

    np.testing.assert_array_equal(minute_by_minute(trace)[:, :3], [[900, 900, 0]] * 4)


def test_nothing_read_gives_nothing() -> None:
    empty = minute_by_minute(Trace(at_s=np.array([]), temperatures_c={}))
    mute = minute_by_minute(Trace(at_s=np.array([0.0, 60.0]), temperatures_c={}))

    assert empty.shape == (0, len(FEATURES))
    assert np.isnan(mute).all()


def test_a_clock_that_jumped_to_another_year_fills_no_memory() -> None:
    at = np.array([0.0, 60.0, 3e8])
    trace = Trace(at_s=at, temperatures_c={"tc1_c": np.ones(3)})

    assert len(minute_by_minute(trace)) == LONGEST_MIN + 1

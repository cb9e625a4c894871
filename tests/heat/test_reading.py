"""A trace from a file: times, blanks, order, repeats, clashes, and what is refused."""

from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.core.errors import Refused
from ringwright.heat.reading import merged, read_trace
from ringwright.heat.trace import LOCAL, SECONDS, UTC


def lines(*rows: str, header: str = "at,tc1_c,tc2_c,pressure_kpa") -> str:
    return "\n".join([header, *rows]) + "\n"


def refused(text: str | bytes) -> str:
    with pytest.raises(Refused) as trouble:
        read_trace(text, "run.csv")
    assert "\n" not in trouble.value.message
    return trouble.value.message


def test_seconds_and_readings_stand_as_the_file_has_them() -> None:
    trace = read_trace(lines("0,20.5,21,0", "60,30.5,31,2.5"), "run.csv")

    assert trace.clock == SECONDS
    assert trace.at_s.tolist() == [0.0, 60.0]
    assert trace.temperatures_c["tc2_c"].tolist() == [21.0, 31.0]
    assert trace.pressure_kpa is not None
    assert trace.pressure_kpa.tolist() == [0.0, 2.5]
    assert trace.stamps == ("0", "60")


def test_times_with_offsets_are_absolute_across_a_change_of_clocks() -> None:
    # Oslo sets its clocks back on 25 October 2026 at 03:00+02:00 (IANA zone database).
    text = lines("2026-10-25T02:30:00+02:00,1,1,", "2026-10-25T02:30:00+01:00,2,2,")

    trace = read_trace(text, "run.csv")

    assert trace.clock == UTC
    assert np.diff(trace.at_s).tolist() == [3600.0]


def test_mixed_offsets_are_one_time() -> None:
    text = lines("2026-10-01T08:00:00+02:00,1,1,", "2026-10-01T06:01:00Z,2,2,")
    assert np.diff(read_trace(text, "run.csv").at_s).tolist() == [60.0]


def test_times_without_offset_are_read_by_the_wall() -> None:
    trace = read_trace(lines("2026-10-01 08:00,1,1,", "2026-10-01 08:05,2,2,"), "run.csv")

    assert trace.clock == LOCAL
    assert np.diff(trace.at_s).tolist() == [300.0]


def test_blank_cells_and_nan_are_no_reading() -> None:
    trace = read_trace(lines("0,,NaN, ", "60,1,nan,", "120,2,3,4"), "run.csv")

    blanks = {name: np.isnan(values).tolist() for name, values in trace.temperatures_c.items()}
    assert blanks == {"tc1_c": [True, False, False], "tc2_c": [True, True, False]}
    assert trace.pressure_kpa is not None
    assert np.isnan(trace.pressure_kpa).tolist() == [True, True, False]


def test_rows_are_sorted_and_repeated_ones_kept_once() -> None:
    trace = read_trace(lines("120,3,3,", "0,1,1,", "60,2,2,", "0,1,1.0,"), "run.csv")

    assert trace.at_s.tolist() == [0.0, 60.0, 120.0]
    assert trace.temperatures_c["tc1_c"].tolist() == [1.0, 2.0, 3.0]
    assert trace.stamps == ("0", "60", "120")
    assert trace.clashes == ()


def test_two_readings_at_one_time_are_named_and_neither_believed() -> None:
    trace = read_trace(lines("0,1,1,", "60,2,2,", "60,2,5,", "120,3,3,"), "run.csv")

    assert trace.clashes == ("60",)
    assert trace.temperatures_c["tc1_c"].tolist() == [1.0, 2.0, 3.0]
    assert math.isnan(trace.temperatures_c["tc2_c"][1])


def test_a_blank_contradicts_nothing() -> None:
    trace = read_trace(lines("0,1,,", "0,,2,7"), "run.csv")

    assert (trace.size, trace.clashes) == (1, ())
    assert trace.temperatures_c["tc2_c"].tolist() == [2.0]


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_decimal_commas_where_columns_are_not_parted_by_commas(delimiter: str) -> None:
    text = delimiter.join(["at", "tc1_c", "tc2_c"]) + "\n"
    text += delimiter.join(["0", "920,5", "919"]) + "\n"

    trace = read_trace("\ufeff" + text, "run.csv")

    assert trace.temperatures_c["tc1_c"].tolist() == [920.5]


def test_bytes_with_a_mark_old_line_ends_and_other_columns_are_read() -> None:
    text = lines("0,20,21,0,warm", "", header="at,tc1_c,tc2_c,pressure_kpa,note")
    trace = read_trace(("\ufeff" + text.replace("\n", "\r\n")).encode(), "run.csv")

    assert list(trace.temperatures_c) == ["tc1_c", "tc2_c"]
    assert trace.size == 1


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "empty"),
        (b"\xff\xfea\x00", "UTF-8"),
        ("at,tc1_c\n\0,1\n", "no table"),
        ("at,tc1_c\n", "no rows"),
        ("time,tc1_c\n0,1\n", "no column at"),
        ("at,pressure_kpa\n0,1\n", "no thermocouple"),
        ("at,tc1_c,tc2_f\n0,1,2\n", "tc2_f"),
        ("at,tc1_c,pressure_bar\n0,1,2\n", "pressure_bar"),
        ("at,tc1_c,tc1_c\n0,1,2\n", "two columns tc1_c"),
        (lines("0,1,2,3", "60,x,2,3", "120,y,2,3"), "line 3: tc1_c 'x' is no figure (and 1"),
        (lines("0,1,2,3", "60,1_0,2,3"), "line 3"),
        (lines("0,1,2,3", "60,inf,2,3"), "line 3"),
        (lines("0,1,2,3", "60,1,2"), "line 3: 3 cells under 4"),
        (lines("0,1,2,3", "60,1,2,3,4"), "line 3: 5 cells under 4"),
        (lines("0,1,2,3", ",1,2,3"), "line 3: no time"),
        (lines("0,1,2,3", "2026-10-01T08:00Z,1,2,3"), "line 3"),
        (lines("01.10.2026 08:00,1,2,3"), "line 2"),
        (lines("2026-10-01T08:00Z,1,2,3", "2026-10-01T08:01,1,2,3"), "line 3"),
        (lines("2026-10-01T08:00,1,2,3", "2026-10-01T08:01+02:00,1,2,3"), "line 3"),
        (lines('0,"1\n",2,3'), "several lines"),
        ("at;tc1_c\n0;1,5\n60;1.5\n", "no figure"),
    ],
)
def test_a_bad_file_is_refused_in_one_line(text: str | bytes, why: str) -> None:
    assert why in refused(text)


@settings(max_examples=150)
@given(
    body=st.text(alphabet='0123456789.,;:\n\r\t"-+ naTZ\x00é', max_size=80),
    head=st.sampled_from(["", "at,tc1_c\n", "at;tc1_c;pressure_kpa\n"]),
)
def test_no_text_makes_it_fall(body: str, head: str) -> None:
    with contextlib.suppress(Refused):
        trace = read_trace(head + body, "run.csv")
        assert (np.diff(trace.at_s) > 0).all()


def test_batches_of_a_run_become_one_trace() -> None:
    first = read_trace(lines("0,1,1,0", "60,2,2,0"), "a.csv")
    second = read_trace(lines("60,2,2,0", "120,3,3,9"), "b.csv")

    whole = merged([second, first])

    assert whole.at_s.tolist() == [0.0, 60.0, 120.0]
    assert whole.temperatures_c["tc1_c"].tolist() == [1.0, 2.0, 3.0]
    assert (whole.stamps, whole.clashes, whole.clock) == (("0", "60", "120"), (), SECONDS)


def test_a_channel_that_one_batch_lacks_is_blank_there() -> None:
    first = read_trace("at,tc1_c\n0,1\n", "a.csv")
    second = read_trace("at,tc1_c,tc2_c,pressure_kpa\n60,2,2,5\n", "b.csv")

    whole = merged([first, second])

    assert np.isnan(whole.temperatures_c["tc2_c"]).tolist() == [True, False]
    assert whole.pressure_kpa is not None
    assert np.isnan(whole.pressure_kpa).tolist() == [True, False]


def test_batches_that_contradict_each_other_are_named() -> None:
    stamp = "2026-10-01T08:00:00+02:00"
    first = read_trace(f"at,tc1_c\n{stamp},1\n", "a.csv")
    second = read_trace(f"at,tc1_c\n{stamp},2\n", "b.csv")

    assert merged([first, second]).clashes == (stamp,)
    again = merged([merged([first, second]), first])
    assert again.clashes == (stamp,)


def test_batches_by_different_clocks_are_refused() -> None:
    first = read_trace("at,tc1_c\n0,1\n", "a.csv")
    second = read_trace("at,tc1_c\n2026-10-01T08:00Z,1\n", "b.csv")

    with pytest.raises(Refused, match="seconds and utc"):
        merged([first, second])
    with pytest.raises(Refused, match="no trace"):
        merged([])

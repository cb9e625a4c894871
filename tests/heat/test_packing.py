"""A trace kept small comes back as it was, and damaged bytes never come back at all."""

from __future__ import annotations

import struct
import tracemalloc
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.core.errors import Refused
from ringwright.heat import packing
from ringwright.heat.packing import MAGIC, VERSION, pack, resolutions, unpack
from ringwright.heat.trace import Trace

HOURS_12 = 43_200


def a_trace(samples: int = 300, channels: int = 3, decimals: int = 2, seed: int = 5) -> Trace:
    """A run that heats, holds and cools, as a recorder writes it."""
    random = np.random.default_rng(seed)
    at = np.arange(samples, dtype=np.float64)
    level = np.interp(at, np.array([0, 0.2, 0.8, 1]) * samples, [20, 920, 920, 300])
    pressure = np.interp(at, np.array([0, 0.3, 0.7, 1]) * samples, [0, 0, 900, 0])
    return Trace(
        at_s=1_790_000_000.0 + at,
        temperatures_c={
            f"tc{n}_c": np.round(level + random.normal(0, 0.15, samples), decimals)
            for n in range(1, channels + 1)
        },
        pressure_kpa=np.round(pressure + random.normal(0, 0.3, samples), 2),
        clashes=("2026-10-05T22:14:00+02:00",),
    )


def assert_same(one: Trace, other: Trace) -> None:
    np.testing.assert_array_equal(one.at_s, other.at_s)
    assert list(one.temperatures_c) == list(other.temperatures_c)
    for name, values in one.temperatures_c.items():
        np.testing.assert_array_equal(values, other.temperatures_c[name])
    assert (one.pressure_kpa is None) == (other.pressure_kpa is None)
    if one.pressure_kpa is not None and other.pressure_kpa is not None:
        np.testing.assert_array_equal(one.pressure_kpa, other.pressure_kpa)
    assert one.clashes == other.clashes


def crafted(body: bytes, *, size: int | None = None) -> bytes:
    """Bytes with a right sum around any body, as somebody who knows the form would write."""
    claimed = len(body) if size is None else size
    start = struct.pack("<4sBII", MAGIC, VERSION, claimed, zlib.crc32(body))
    return start + zlib.compress(body)


def test_a_run_comes_back_figure_for_figure() -> None:
    trace = a_trace()

    assert_same(unpack(pack(trace)), trace)


def test_twelve_hours_of_twelve_channels_each_second_take_half_a_megabyte() -> None:
    trace = a_trace(HOURS_12, 12)

    packed = pack(trace)

    assert len(packed) < 550_000
    assert_same(unpack(packed), trace)


@given(
    st.lists(
        st.one_of(
            st.just(float("nan")), st.integers(-(10**6), 10**6).map(lambda whole: whole / 100)
        ),
        max_size=40,
    ),
    st.integers(0, 10**15),
    st.lists(st.integers(1, 10**9), min_size=40, max_size=40),
)
def test_any_readings_of_two_decimals_and_any_milliseconds(
    readings: list[float], begin_ms: int, steps_ms: list[int]
) -> None:
    at = np.cumsum([begin_ms, *steps_ms])[: len(readings)] / 1000.0
    values = np.array(readings, dtype=np.float64)
    trace = Trace(at_s=at, temperatures_c={"tc1_c": values, "tc2_c": values[::-1].copy()})

    packed = pack(trace)

    assert_same(unpack(packed), trace)
    assert resolutions(packed) == {"at_s": 1e-3, "tc1_c": 1e-2, "tc2_c": 1e-2}


@pytest.mark.parametrize(("decimals", "kept"), [(1, 2), (2, 2), (3, 3), (4, 4), (6, 6)])
def test_a_column_is_kept_as_finely_as_it_was_logged(decimals: int, kept: int) -> None:
    trace = a_trace(decimals=decimals)

    packed = pack(trace)

    assert resolutions(packed)["tc1_c"] == pytest.approx(10.0**-kept)
    assert resolutions(packed)["pressure_kpa"] == pytest.approx(0.01)
    assert_same(unpack(packed), trace)


def test_finer_than_six_decimals_comes_back_rounded_to_the_sixth() -> None:
    values = np.random.default_rng(8).normal(900, 5, 50)
    trace = Trace(at_s=np.arange(50.0), temperatures_c={"tc1_c": values})

    back = unpack(pack(trace)).temperatures_c["tc1_c"]

    np.testing.assert_array_equal(back, np.round(values, 6))
    assert np.abs(back - values).max() <= 5.001e-7


def test_blanks_stay_where_they_were() -> None:
    trace = a_trace(50)
    for name, blank in zip(trace.temperatures_c, ([0, 1], [48, 49], range(50)), strict=True):
        trace.temperatures_c[name][list(blank)] = np.nan

    assert_same(unpack(pack(trace)), trace)


@pytest.mark.parametrize("samples", [0, 1, 2])
def test_a_run_that_has_hardly_begun(samples: int) -> None:
    assert_same(unpack(pack(a_trace(samples))), a_trace(samples))


def test_a_run_without_pressure_or_thermocouples() -> None:
    bare = Trace(at_s=np.arange(5.0), temperatures_c={})

    assert_same(unpack(pack(bare)), bare)


def test_irregular_times_and_jumps_of_any_size() -> None:
    at = np.cumsum([0.001, 1.5, 0.25, 3600.0, 1e9])
    jumps = np.array([0.0, 1e6, -1e6, 2**40 / 100, -0.01])
    trace = Trace(at_s=at, temperatures_c={"tc1_c": jumps})

    assert_same(unpack(pack(trace)), trace)


@pytest.mark.parametrize(
    ("at", "reading", "why"),
    [
        ([0.0, 1.0], [1.0, np.inf], "infinite"),
        ([0.0, 1.0], [1.0, 1e300], "too large"),
        ([1.0, 0.0], [1.0, 2.0], "rising"),
        ([0.0, np.nan], [1.0, 2.0], "rising"),
        ([0.0, 1e-8], [1.0, 2.0], "microsecond"),
    ],
)
def test_what_cannot_be_kept_is_refused(
    at: list[float], reading: list[float], why: str
) -> None:
    trace = Trace(at_s=np.array(at), temperatures_c={"tc1_c": np.array(reading)})

    with pytest.raises(Refused, match=why):
        pack(trace)


def test_more_than_a_week_each_second_is_refused() -> None:
    at = np.arange(float(packing.MOST_READINGS // 3 + 1))

    with pytest.raises(Refused, match="too large to keep"):
        pack(Trace(at_s=at, temperatures_c={"tc1_c": at}))


PACKED = pack(a_trace(60))


@given(st.integers(0, len(PACKED) - 1), st.integers(1, 255))
def test_no_changed_byte_passes(place: int, change: int) -> None:
    damaged = bytearray(PACKED)
    damaged[place] ^= change

    with pytest.raises(Refused):
        unpack(bytes(damaged))


@pytest.mark.parametrize("place", range(13))
def test_no_changed_byte_of_the_beginning_passes(place: int) -> None:
    for bit in range(8):
        damaged = bytearray(PACKED)
        damaged[place] ^= 1 << bit
        with pytest.raises(Refused):
            unpack(bytes(damaged))


@given(st.integers(0, len(PACKED) - 1))
def test_no_shortened_or_lengthened_bytes_pass(length: int) -> None:
    for damaged in (PACKED[:length], PACKED + PACKED[: length + 1]):
        with pytest.raises(Refused):
            unpack(damaged)


@settings(max_examples=300)
@given(st.binary(max_size=300))
def test_whatever_stands_behind_a_right_sum_is_a_trace_or_refused(body: bytes) -> None:
    try:
        found = unpack(crafted(body))
    except Refused:
        return
    assert np.all(np.diff(found.at_s) > 0)


@settings(max_examples=300)
@given(st.data())
def test_a_head_that_was_tampered_with_gives_a_trace_or_is_refused(data: st.DataObject) -> None:
    body = bytearray(zlib.decompress(PACKED[13:]))
    for _ in range(data.draw(st.integers(1, 4))):
        body[data.draw(st.integers(0, 120))] = data.draw(st.integers(0, 255))

    try:
        found = unpack(crafted(bytes(body)))
    except Refused:
        return
    assert np.all(np.diff(found.at_s) > 0)
    assert all(len(one) == found.size for one in found.temperatures_c.values())


@pytest.mark.parametrize(("step", "rises"), [(1, False), (0, False), (2, True)])
def test_times_that_do_not_rise_are_refused(step: int, rises: bool) -> None:
    """Two samples a difference apart: 2 is one millisecond on, 1 one back, 0 none."""
    column = struct.pack("<BBBBqH", 0, 3, 1, 0, 5, 4) + b"at_s"
    packed = crafted(struct.pack("<IHI", 2, 1, 0) + column + bytes([0, step]))

    if rises:
        assert list(unpack(packed).at_s) == [0.005, 0.006]
    else:
        with pytest.raises(Refused):
            unpack(packed)


def test_another_form_is_refused_by_its_number() -> None:
    with pytest.raises(Refused, match="form 9"):
        unpack(MAGIC + bytes([9]) + PACKED[5:])


def test_few_bytes_that_would_unpack_to_many_never_do() -> None:
    """A quarter of a gigabyte of noughts behind a claim of a thousand bytes, or of its size."""
    noughts = zlib.compressobj()
    bomb = b"".join(noughts.compress(bytes(2**20)) for _ in range(256)) + noughts.flush()
    liar = struct.pack("<4sBII", MAGIC, VERSION, 1000, 0) + bomb
    honest = struct.pack("<4sBII", MAGIC, VERSION, 2**28, 0) + bomb

    tracemalloc.start()
    for packed in (liar, honest):
        with pytest.raises(Refused):
            unpack(packed)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert len(bomb) < 2**20
    assert peak < 2**20


def test_few_bytes_that_claim_many_samples_are_refused_before_any_is_made() -> None:
    """Columns whose differences are all nought take no bytes, however long they are."""
    column = struct.pack("<BBBBqH", 0, 3, 0, 0, 0, 4) + b"at_s"
    head = struct.pack("<IHI", 2**32 - 1, 1, 0) + column

    tracemalloc.start()
    with pytest.raises(Refused):
        unpack(crafted(head))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert peak < 2**20

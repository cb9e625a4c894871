"""The clock: the machine's, or one that a test sets."""

from __future__ import annotations

import time

import pytest

from ringwright.core.clock import FixedClock, SystemClock, clock_from


def test_the_machine_clock_tells_microseconds_utc() -> None:
    before = time.time()

    now_us = SystemClock().now_us()

    assert before - 0.001 <= now_us / 1e6 <= time.time() + 0.001


def test_a_fixed_clock_stands_until_it_is_set() -> None:
    clock = FixedClock(5)
    assert clock.now_us() == clock.now_us() == 5

    clock.at_us = 7

    assert clock.now_us() == 7


def test_a_clock_is_fixed_only_when_a_time_is_given() -> None:
    assert clock_from("1970-01-01T01:00:00.000005+01:00") == FixedClock(5)
    assert isinstance(clock_from(None), SystemClock)
    assert isinstance(clock_from(""), SystemClock)
    with pytest.raises(ValueError, match="no offset"):
        clock_from("2026-10-01T06:00")

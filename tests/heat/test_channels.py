"""Thermocouples that failed, were silent for a while, or read what none can have read."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ringwright.heat.judge import Judgement, judge
from ringwright.heat.reading import merged
from ringwright.heat.trace import Trace
from tests.heat.make_cycles import ramp, recipe, run, soak, with_readings, without

ASKED = recipe(
    ramp(920, name="heat"), soak(920, min_minutes=60), ramp(500, name="cool"), min_channels=2
)
GOOD = run([(0, 20), (90, 920), (220, 920), (325, 500), (330, 480)], offsets=(-2, 0, 1, 2))


def judged(trace: Trace, **more: float) -> Judgement:
    return judge(trace, recipe(*ASKED.segments, **more) if more else ASKED)


def read_as(value: float, *minutes: int) -> Trace:
    return with_readings(GOOD, "tc3_c", dict.fromkeys(minutes, value))


@pytest.mark.parametrize("value", [921.5, math.nan])
@pytest.mark.parametrize(("length", "failed"), [(31, ("tc3_c",)), (30, ())])
def test_constant_or_blank_through_thirty_minutes_is_failed(
    value: float, length: int, failed: tuple[str, ...]
) -> None:
    # Thirty-one samples a minute apart span thirty minutes.
    assert judged(read_as(value, *range(120, 120 + length))).channels_failed == failed


def test_a_failed_thermocouple_is_left_out_of_the_whole_run() -> None:
    # Frozen in the cold of the way up; nobody asks it about the soak.
    found = judged(read_as(100.0, *range(10, 200)))

    assert (found.verdict, found.channels_failed) == ("met", ("tc3_c",))
    assert found.segments[0].min_c == 18.0


def test_what_a_failed_thermocouple_read_is_no_overshoot() -> None:
    broken = with_readings(read_as(921.0, *range(100, 140)), "tc3_c", {160: 1300.0})
    assert judged(broken, ceiling_c=950).met


def test_a_reading_that_flickers_is_no_failure() -> None:
    still = {minute: 921.0 if minute % 29 else 921.1 for minute in range(100, 220)}
    assert judged(with_readings(GOOD, "tc3_c", still)).channels_failed == ()


def test_frozen_with_blanks_between_is_frozen() -> None:
    frozen = {minute: math.nan if minute % 7 == 0 else 921.0 for minute in range(120, 160)}
    assert judged(with_readings(GOOD, "tc3_c", frozen)).channels_failed == ("tc3_c",)


def test_two_equal_readings_on_either_side_of_a_gap_accuse_nobody() -> None:
    gap = without(read_as(921.0, 150, 190), range(151, 190))
    assert judged(gap).channels_failed == ()


def test_a_channel_that_never_read_is_failed_in_a_short_run_too() -> None:
    short = run([(0, 20), (10, 120)])
    silent = with_readings(short, "tc1_c", dict.fromkeys(range(11), math.nan))
    assert judge(silent, ASKED).channels_failed == ("tc1_c",)


def test_the_rest_decide_while_enough_work() -> None:
    two_left = with_readings(read_as(5.0, *range(40)), "tc1_c", dict.fromkeys(range(40), 5.0))

    assert judged(two_left).met
    few = judged(two_left, min_channels=3)
    assert few.verdict == "not met"
    assert few.channels_failed == ("tc1_c", "tc3_c")
    assert {one.why for one in few.segments} == {"2 of 3 thermocouples needed work"}


def test_a_file_with_one_thermocouple_is_not_met_unless_the_recipe_is_content() -> None:
    alone = run([(0, 20), (90, 920), (220, 920), (325, 500), (330, 480)], offsets=(0,))

    assert judge(alone, ASKED).reasons == ("1 of 2 thermocouples needed work",)
    assert judge(alone, recipe(*ASKED.segments, min_channels=1)).met


def test_where_all_failed_nothing_is_known() -> None:
    still = run([(0, 20), (60, 20)], flicker=0.0)

    found = judge(still, ASKED)

    assert found.channels_failed == ("tc1_c", "tc2_c", "tc3_c")
    assert {(one.met, one.start, one.min_c, one.why) for one in found.segments} == {
        (False, None, None, "no thermocouple works")
    }


def test_a_short_blank_is_bridged_as_a_missing_row_is() -> None:
    soaked = judged(read_as(math.nan, 150, 151)).segments[1]
    assert (soaked.minutes, soaked.out_of_band_minutes, soaked.why) == (131.0, 0.0, "")


def test_a_longer_blank_stops_the_clock_and_is_told() -> None:
    # The last reading is of minute 149, the next of 160: more than three minutes apart.
    soaked = judged(read_as(math.nan, *range(150, 160))).segments[1]

    assert (soaked.minutes, soaked.out_of_band_minutes, soaked.met) == (121.0, 0.0, True)
    assert (
        soaked.why == "a thermocouple was silent for 10 min, first at 9000 s: the clock stood"
    )


def test_a_soak_does_not_begin_while_one_is_silent() -> None:
    assert judged(read_as(math.nan, *range(85, 100))).segments[1].first == 100


@pytest.mark.parametrize(
    "unit", [lambda c: c * 1.8 + 32.0, lambda c: c + 273.15], ids=["fahrenheit", "kelvin"]
)
@pytest.mark.parametrize("target", [920.0, 540.0, 180.0])
def test_another_unit_in_the_column_is_never_met(target: float, unit: object) -> None:
    assert callable(unit)
    right = run([(0, 20), (60, target), (130, target), (200, 60)])
    asked = recipe(ramp(target), soak(target, min_minutes=60), ramp(60, 20))
    wrong = Trace(
        at_s=right.at_s,
        temperatures_c={name: unit(read) for name, read in right.temperatures_c.items()},
        stamps=right.stamps,
        clock=right.clock,
    )

    assert judge(right, asked).met
    found = judge(wrong, asked)
    assert not found.met
    assert "is it in °F or K?" in " ".join(found.reasons)


def test_one_column_in_another_unit_is_named() -> None:
    columns = dict(GOOD.temperatures_c)
    columns["tc2_c"] = columns["tc2_c"] * 1.8 + 32.0
    mixed = Trace(at_s=GOOD.at_s, temperatures_c=columns, stamps=GOOD.stamps, clock=GOOD.clock)

    found = judged(mixed)

    assert not found.met
    assert found.reasons[0].startswith("tc2_c read 1688 °C")


@pytest.mark.parametrize(
    ("value", "why"), [(-200.0, "colder than any furnace"), (20.0, "a jump and back")]
)
def test_a_broken_wire_s_reading_is_never_met(value: float, why: str) -> None:
    # One sample of a minute would be no more than a short dip.
    found = judged(read_as(value, 150))

    assert not found.met
    assert any(why in reason for reason in found.reasons)
    assert why in found.segments[1].why


def test_a_quench_is_no_jump() -> None:
    # 400 degrees in a minute, and it stays there.
    fast = run([(0, 20), (90, 920), (160, 920), (162, 120), (200, 100)])
    assert judge(fast, recipe(ramp(920), soak(920, min_minutes=60), ramp(120, 30))).met


def test_a_furnace_that_begins_hotter_than_the_recipe_is_believed() -> None:
    cooling = run([(0, 1200), (100, 300), (160, 300)])
    assert judge(cooling, recipe(ramp(300), soak(300, min_minutes=50))).met


def test_two_readings_at_one_time_are_never_met_and_named() -> None:
    other = without(with_readings(GOOD, "tc3_c", {150: 922.0}), [*range(150), *range(151, 331)])
    both = merged([GOOD, other])

    found = judge(both, ASKED)

    assert both.size == GOOD.size
    assert found.reasons == ("two different readings at 9000",)
    assert [one.met for one in found.segments] == [True, False, True]
    # Neither is believed, but a minute of silence stops no clock.
    assert found.segments[1].minutes == 131.0


def test_a_clash_between_batches_without_spelling_is_found_in_its_segment() -> None:
    at_s = GOOD.at_s + 1_790_000_000.0
    first = Trace(at_s=at_s, temperatures_c=GOOD.temperatures_c)
    second = Trace(at_s=at_s[300:301], temperatures_c={"tc1_c": np.array([1.0])})

    found = judge(merged([first, second]), ASKED)

    assert [one.met for one in found.segments] == [True, True, False]
    assert found.segments[2].why == "two different readings at 2026-09-21T19:13:20+00:00"

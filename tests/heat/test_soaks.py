"""The rules of a soak, each on a trace worked out by hand: a minute a sample, 920 ± 8 degC.

`run` draws straight lines between corners; a heating of 10 degC a minute reaches 912 with the
coldest thermocouple (2 below the line) in minute 90 at 918.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ringwright.heat.judge import Judged, judge
from ringwright.heat.recipe import Recipe
from ringwright.heat.trace import Trace
from tests.heat.make_cycles import ramp, recipe, run, soak, until, with_readings, without

HEAT = ramp(920, name="heat")
SOAK = soak(920, min_minutes=120)
COOL = ramp(500, name="cool")
ASKED = recipe(HEAT, SOAK, COOL)
CORNERS = [(0, 20), (90, 920), (220, 920), (325, 500), (330, 480)]
GOOD = run(CORNERS)
ALL = ("tc1_c", "tc2_c", "tc3_c")


def soak_of(trace: Trace, asked: Recipe = ASKED, name: str = "soak") -> Judged:
    return next(one for one in judge(trace, asked).segments if one.name == name)


def off_by(degrees: float, *minutes: int, channel: str = "tc1_c") -> Trace:
    """The good run, but for one thermocouple so far off the 920 at these minutes."""
    return with_readings(GOOD, channel, dict.fromkeys(minutes, 920.0 + degrees))


def test_a_good_run_is_met_and_says_nothing() -> None:
    judgement = judge(GOOD, ASKED)

    assert (judgement.verdict, judgement.channels_failed) == ("met", ())
    assert [one.why for one in judgement.segments] == ["", "", ""]


def test_a_soak_begins_when_the_slowest_is_in_band_and_ends_with_the_last_sample_in_it() -> (
    None
):
    # Cooling at 4 a minute, the coldest reads 918 - 4 - 0.05 = 913.95 at minute 221, then 910.
    found = soak_of(GOOD)

    assert (found.start, found.first, found.last) == (90 * 60, 90, 221)
    assert (found.minutes, found.out_of_band_minutes) == (131.0, 0.0)
    assert [found.min_c, found.max_c] == pytest.approx([913.95, 922.0])
    assert found.spread_c == pytest.approx(4.0)


def test_the_edges_of_the_band_are_inside() -> None:
    assert soak_of(off_by(8.0, 150, 151)).out_of_band_minutes == 0.0
    assert soak_of(off_by(8.0, 150, 151)).met
    assert soak_of(off_by(-8.0, 150, 151)).out_of_band_minutes == 0.0
    assert soak_of(off_by(-8.01, 150, 151)).out_of_band_minutes == 2.0


def test_edges_that_binary_fractions_miss_are_inside_too() -> None:
    # 500.2 + 2.4 is 502.59999999999997 to a computer, and 502.6 to a furnace.
    trace = run([(0, 500.2), (60, 500.2)], offsets=(0, 1))
    on_edge = with_readings(trace, "tc2_c", dict.fromkeys(range(20, 30), 502.6))

    found = judge(on_edge, recipe(soak(500.2, 2.4, min_minutes=60)))

    assert (found.met, found.segments[0].max_c) == (True, 502.6)


def test_the_minutes_must_be_reached_and_a_whole_one_is() -> None:
    exact, more = soak(920, min_minutes=131), soak(920, min_minutes=131.1)

    assert soak_of(GOOD, recipe(HEAT, exact, COOL)).met
    short = soak_of(GOOD, recipe(HEAT, more, COOL))
    assert (short.met, short.why) == (False, "131 of 131.1 min in band")


def test_a_soak_longer_than_its_longest_is_not_met() -> None:
    assert soak_of(GOOD, recipe(HEAT, soak(920, max_minutes=131), COOL)).met
    long = soak_of(GOOD, recipe(HEAT, soak(920, max_minutes=130), COOL))
    assert (long.met, long.why) == (False, "took 131 min, 130 at most")


def test_a_dip_pauses_the_clock_and_is_counted() -> None:
    found = soak_of(off_by(-20.0, 150, 151, 152))

    assert (found.minutes, found.out_of_band_minutes) == (128.0, 3.0)
    assert (found.min_c, found.met) == (900.0, True)


@pytest.mark.parametrize(("length", "met"), [(5, True), (6, False)])
def test_no_single_dip_may_be_longer_than_the_longest(length: int, met: bool) -> None:
    found = soak_of(off_by(-20.0, *range(150, 150 + length)))

    assert (found.out_of_band_minutes, found.met) == (float(length), met)
    assert met or found.why == "out of band for 6 min from 9000 s, 5 min at most"


def test_two_dips_are_not_one() -> None:
    found = soak_of(off_by(-20.0, *range(130, 135), *range(140, 145)))

    assert (found.out_of_band_minutes, found.met) == (10.0, True)


def test_the_recipe_or_the_segment_says_how_long_a_dip_may_be() -> None:
    dipped = off_by(-20.0, *range(150, 157))

    assert soak_of(dipped, recipe(HEAT, SOAK, COOL, max_dip_minutes=7)).met
    own = soak(920, min_minutes=120, max_dip_minutes=6)
    assert not soak_of(dipped, recipe(HEAT, own, COOL, max_dip_minutes=7)).met


def test_a_long_deep_dip_from_which_the_load_comes_back_is_within_the_soak() -> None:
    corners = [(0, 20), (90, 920), (150, 920), (170, 600), (190, 920), (280, 920), (400, 500)]

    found = soak_of(run(corners))

    # Out of band from minute 151 (904) up to minute 190, where the line is back at 920.
    assert (found.first, found.last, found.out_of_band_minutes) == (90, 281, 39.0)
    assert "out of band for 39 min" in found.why


def test_a_dip_into_the_next_band_is_no_departure() -> None:
    corners = [(0, 20), (90, 900), (120, 900), (121, 888), (124, 888), (125, 900)]
    trace = run([*corners, (180, 900), (185, 880), (250, 880)])
    asked = recipe(soak(900, 5, min_minutes=60), soak(880, 10, name="lower", min_minutes=50))

    first, second = judge(trace, asked).segments

    assert (first.last, first.out_of_band_minutes, first.met) == (180, 4.0, True)
    assert (second.first, second.last, second.met) == (183, 250, True)


def test_on_heating_one_reading_above_the_band_is_too_much() -> None:
    found = soak_of(off_by(8.1, 150))

    assert (found.met, found.max_c) == (False, 928.1)
    assert found.why == "tc1_c read 928.1 °C at 9000 s, above 928 °C"


def test_on_heating_it_counts_from_the_first_thermocouple_in_band() -> None:
    # tc1 leads the others by a minute and shoots over before they are in.
    before = with_readings(GOOD, "tc1_c", {88: 915.0, 89: 929.0})
    judgement = judge(before, ASKED)

    assert judgement.segments[1].first == 90
    assert judgement.segments[1].why == "tc1_c read 929 °C at 5340 s, above 928 °C"
    assert judgement.segments[0].met


def test_after_cooling_what_is_above_the_band_is_a_dip() -> None:
    down = [(0, 920), (60, 920), (100, 700), (200, 700)]
    asked = recipe(soak(920, name="hot"), soak(700, min_minutes=90))
    trace = with_readings(run(down), "tc1_c", {150: 715.0, 151: 715.0})

    found = soak_of(trace, asked)

    assert (found.out_of_band_minutes, found.met) == (2.0, True)


def test_a_load_that_goes_on_heating_after_its_soak_is_not_met() -> None:
    away = run([(0, 20), (90, 920), (220, 920), (225, 960), (240, 960)])

    found = soak_of(away, recipe(HEAT, SOAK))

    assert (found.minutes, found.met) == (130.0, False)
    assert "read 962 °C" in found.why


def test_a_gap_stops_the_clock_and_is_told_though_the_soak_is_met() -> None:
    # 16 minutes between two samples where one is the rule: 131 - 16 are left.
    found = soak_of(without(GOOD, range(150, 165)), recipe(HEAT, soak(920, min_minutes=115)))

    assert (found.minutes, found.out_of_band_minutes, found.met) == (115.0, 0.0, True)
    assert found.why == "gap in the record, 16 min, longest from 8940 s: the clock stood"


def test_three_median_intervals_are_no_gap_and_more_is() -> None:
    assert soak_of(without(GOOD, [150, 151])).why == ""
    assert soak_of(without(GOOD, [150, 151])).minutes == 131.0
    assert soak_of(without(GOOD, [150, 151, 152])).minutes == 127.0


@pytest.mark.parametrize(("wait_min", "minutes"), [(3.0, 133.0), (3.02, 130.0)])
def test_a_little_more_than_three_median_intervals_is_a_gap(
    wait_min: float, minutes: float
) -> None:
    later = np.where(GOOD.at_s > 150 * 60.0, GOOD.at_s + (wait_min - 1.0) * 60.0, GOOD.at_s)
    assert soak_of(replace(GOOD, at_s=later)).minutes == minutes


def test_nobody_saw_the_load_come_back_in_a_gap() -> None:
    dipped = off_by(-20.0, 150, 151)

    found = soak_of(without(dipped, range(152, 160)), recipe(HEAT, soak(920, min_minutes=60)))

    assert (found.out_of_band_minutes, found.met) == (1.0, False)
    assert "out of band for 10 min from 9000 s" in found.why


def test_the_least_the_most_and_the_spread_are_over_the_soak_dips_included() -> None:
    found = soak_of(with_readings(GOOD, "tc3_c", {150: 905.0, 151: 927.0}))

    assert (found.min_c, found.max_c) == (905.0, 927.0)
    # tc2 at 920 stands 15 above; at minute 151 tc1 reads 917.95.
    assert found.spread_c == pytest.approx(15.0)


def test_a_soak_that_was_never_reached_says_how_near_it_came() -> None:
    cold = run([(0, 20), (90, 905), (220, 905), (325, 500)])

    found = soak_of(cold)

    assert (found.met, found.start, found.minutes, found.min_c) == (False, None, 0.0, None)
    assert found.why == "never all within 920 ± 8 °C: tc1_c came no nearer than 903 °C"


def test_a_ceiling_may_not_be_passed_at_any_time() -> None:
    asked = recipe(HEAT, SOAK, COOL, ceiling_c=925)

    assert judge(off_by(5.0, 150), asked).met
    over = judge(off_by(5.1, 150), asked)
    assert over.reasons == ("tc1_c read 925.1 °C at 9000 s, above the ceiling of 925 °C",)
    assert [one.met for one in over.segments] == [True, False, True]


def test_a_ceiling_counts_outside_every_soak_too() -> None:
    early = with_readings(GOOD, "tc2_c", {40: 990.0})
    assert (
        "above the ceiling"
        in judge(early, recipe(HEAT, SOAK, COOL, ceiling_c=950)).segments[0].why
    )


def test_two_soaks_whose_bands_overlap_are_told_apart_where_the_load_moves_on() -> None:
    trace = run([(0, 20), (90, 900), (150, 900), (152, 910), (210, 910)])
    asked = recipe(soak(900, 10, name="a", min_minutes=60), soak(910, 10, name="b"))

    first, second = judge(trace, asked).segments

    # Half way, 905, the line stands at in minute 151.
    assert (first.first, first.last) == (90, 151)
    assert second.first == 152


def test_a_soak_begins_in_its_own_band_though_that_is_less_than_half_way() -> None:
    # Down by one a minute from minute 150; all three are at 890 or below with the line at 888.
    trace = run([(0, 20), (90, 900), (150, 900), (180, 870), (260, 870)])
    asked = recipe(ramp(900, 5), soak(900, 5, name="a"), soak(870, 20, name="b"))

    *_, first, second = judge(trace, asked).segments

    assert (first.last, second.first) == (152, 162)


def test_a_load_that_runs_hot_after_a_soak_reached_by_cooling_is_not_met() -> None:
    hot = run([(0, 920), (60, 920), (100, 700), (200, 700), (210, 760)])
    asked = recipe(soak(920, name="hot"), soak(700, min_minutes=90))

    assert soak_of(hot, asked).why == "tc3_c read 762 °C at 12600 s, above 708 °C"


def test_a_record_that_begins_in_band_waits_for_all() -> None:
    # One thermocouple stands 12 above at first; the recipe says nothing of where it came from.
    warm = run([(0, 920), (10, 914), (90, 914)], offsets=(0, 12))
    heat, held = judge(warm, recipe(ramp(920, 10), soak(920, 10, min_minutes=60))).segments

    assert (heat.last, held.first) == (4, 4)
    assert held.why == "tc2_c read 932 °C at 0 s, above 930 °C"


def test_the_same_temperature_twice_with_another_between() -> None:
    corners = [(0, 20), (90, 920), (150, 920), (250, 315), (350, 920), (420, 920)]
    asked = recipe(
        soak(920, name="a", min_minutes=60),
        ramp(300, 20, name="cool"),
        soak(920, name="b", min_minutes=60),
    )

    first, cool, second = judge(run(corners), asked).segments

    # The cooling falls by 6.05 a minute: at minute 151 the coldest still reads 911.9, outside.
    assert (first.first, first.last, cool.last) == (90, 150, 250)
    assert (second.first, second.met, cool.met) == (350, True, True)


def test_what_follows_the_last_soak_for_hours_changes_nothing() -> None:
    corners = [(0, 20), (48, 500), (80, 500), (120, 920), (180, 920), (240, 500), (2400, 500)]
    asked = recipe(soak(500, name="a", min_minutes=30), soak(920, name="b", min_minutes=60))

    first, second = judge(run(corners), asked).segments

    assert [first.last, second.first, second.last] == [80, 120, 180]
    assert (first.met, second.met) == (True, True)


@pytest.mark.parametrize("step_s", [1.0, 10.0, 30.0, 60.0])
def test_the_minutes_do_not_hang_on_how_often_was_read(step_s: float) -> None:
    found = soak_of(run(CORNERS, step_s=step_s))

    # In band from 914 (the line, coldest 912) at minute 89.4 to 914 at minute 221.5.
    assert found.minutes == pytest.approx(132.1, abs=2 * step_s / 60)


def test_a_run_under_way_tells_where_it_is_and_how_long() -> None:
    told = {}
    for minute in (0, 50, 90, 150, 222, 226, 300):
        judgement = judge(until(GOOD, minute), ASKED)
        assert judgement.under_way is not None
        now = judgement.segments[judgement.under_way]
        told[minute] = (now.name, now.minutes, now.faults)

    assert told == {
        0: ("heat", 0.0, ()),
        50: ("heat", 50.0, ()),
        90: ("soak", 0.0, ()),
        150: ("soak", 60.0, ()),
        222: ("soak", 131.0, ()),
        226: ("cool", 5.0, ()),
        300: ("cool", 79.0, ()),
    }


def test_a_sag_before_the_minutes_are_there_is_no_setting_out() -> None:
    sagging = run([(0, 20), (90, 920), (150, 920), (155, 890), (160, 890)])

    judgement = judge(sagging, ASKED)

    assert judgement.under_way == 1
    assert judgement.segments[1].why == "60 of 120 min in band"
    assert judgement.segments[2].why == "the record ends before this segment began"


def test_what_is_wrong_already_is_told_while_the_run_goes_on() -> None:
    now = judge(until(off_by(9.0, 100), 110), ASKED).segments[1]

    assert now.faults == ("tc1_c read 929 °C at 6000 s, above 928 °C",)
    assert now.lacking == ("19 of 120 min in band",)


def test_a_trace_without_readings_decides_nothing() -> None:
    empty = Trace(at_s=np.zeros(0), temperatures_c={name: np.zeros(0) for name in ALL})

    judgement = judge(empty, ASKED)

    assert (judgement.met, judgement.under_way) == (False, None)
    assert {one.why for one in judgement.segments} == {"there are no readings"}

"""Ramps: where they end, how fast they may go, and that segments come in order."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import linregress

from ringwright.heat.judge import judge
from ringwright.heat.rates import steepest_per_min, windows
from tests.heat.make_cycles import ramp, recipe, run, soak, until, with_readings, without

CORNERS = [(0, 20), (90, 920), (220, 920), (325, 500), (330, 480)]
RISE = run([(0, 20), (90, 920)], flicker=0.0)
FLICKER = run(CORNERS)


def whys(trace: object, *segments: object) -> list[str]:
    return [one.why for one in judge(trace, recipe(*segments)).segments]  # type: ignore[arg-type]


def test_a_ramp_runs_from_the_record_s_begin_to_where_the_slowest_is_in_band() -> None:
    heat, _, cool = judge(
        FLICKER, recipe(ramp(920), soak(920, min_minutes=60), ramp(500))
    ).segments

    assert (heat.start, heat.first, heat.last, heat.minutes) == (0, 0, 90, 90.0)
    assert (heat.min_c, heat.max_c) == (18.0, 922.0)
    # From the soak's last sample to where the hottest, 2 above the line, is at 508.
    assert (cool.first, cool.last, cool.minutes) == (221, 324, 103.0)


@pytest.mark.parametrize("rate", [0.7, 3.3, 7.3, 10.0, 11.1])
@pytest.mark.parametrize("step_s", [10.0, 60.0])
def test_a_rate_at_its_limit_is_allowed(rate: float, step_s: float) -> None:
    straight = run([(0, 20), (90, 20 + 90 * rate)], flicker=0.0, step_s=step_s)
    target = 20 + 90 * rate

    assert judge(straight, recipe(ramp(target, max_rate_c_per_min=rate))).met
    assert not judge(straight, recipe(ramp(target, max_rate_c_per_min=rate - 0.01))).met


def test_a_rate_counts_on_cooling_as_on_heating() -> None:
    fall = run([(0, 920), (60, 680)], flicker=0.0)
    assert whys(fall, ramp(680, max_rate_c_per_min=4.0)) == [""]
    (fast,) = whys(fall, ramp(680, max_rate_c_per_min=3.9))
    assert fast.startswith("tc1_c went 4 °C/min")
    assert fast.endswith(", 3.9 at most")


def test_one_thermocouple_is_enough_to_be_too_fast() -> None:
    steep = {minute: 20 + 10.0 * minute + 15.0 * (minute - 40) for minute in range(40, 46)}
    steep |= {minute: 20 + 10.0 * minute + 75.0 for minute in range(46, 80)}
    (why,) = whys(with_readings(RISE, "tc2_c", steep), ramp(920, max_rate_c_per_min=24.0))
    # The six readings from minute 40 lie on one line of 25 a minute.
    assert why == "tc2_c went 25 °C/min from 2400 s, 24 at most"


def test_a_step_shorter_than_five_minutes_is_smoothed_over_them() -> None:
    # A jump of 10 within minutes 40 and 41, on a line of 10 a minute. The steepest five minutes
    # have it in their middle: six samples with a step between the third and the fourth, whose
    # least-squares slope is 10 · 9 / 35 = 2.571 a minute (scipy agrees below).
    jump = {minute: 20 + 10.0 * minute + 10.0 for minute in range(41, 90)}
    trace = with_readings(RISE, "tc2_c", jump)

    found = judge(trace, recipe(ramp(920))).segments[0]

    own = linregress(range(6), [0, 0, 0, 10, 10, 10]).slope
    assert own == pytest.approx(90 / 35)
    assert found.rate_c_per_min == pytest.approx(10.0 + own)


@pytest.mark.parametrize("seed", range(6))
def test_slopes_are_those_of_scipy(seed: int) -> None:
    chance = np.random.default_rng(seed)
    step_s = float(chance.choice([1.0, 10.0, 60.0, 90.0, 400.0]))
    at_s = np.cumsum(chance.uniform(0.6, 1.4, 400) * step_s) + 1_790_000_000.0
    read = np.cumsum(chance.normal(0.0, 1.0, 400)) + 600.0

    found = steepest_per_min(at_s, read, float(np.median(np.diff(at_s))))

    begin, end = windows(at_s, float(np.median(np.diff(at_s))))
    slopes = [
        abs(linregress((at_s[a : b + 1] - at_s[a]) / 60.0, read[a : b + 1]).slope)
        for a, b in zip(begin, end, strict=True)
    ]
    assert found is not None
    assert found[0] == pytest.approx(max(slopes), rel=1e-6)
    spans = at_s[end] - at_s[begin]
    assert (spans >= 150.0).all()
    assert step_s > 60.0 or (np.abs(spans - 300.0) <= step_s).all()


def test_a_stretch_shorter_than_five_minutes_is_one_window() -> None:
    found = steepest_per_min(np.array([0.0, 60.0, 120.0]), np.array([20.0, 30.0, 40.0]), 60.0)
    assert found is not None
    assert found[0] == pytest.approx(10.0)
    assert steepest_per_min(np.array([0.0]), np.array([20.0]), 0.0) is None


def test_a_rate_across_a_gap_is_that_of_its_two_ends() -> None:
    # 300 degrees within ten minutes that nobody saw: thirty a minute at least once.
    lost = without(run([(0, 20), (30, 320), (40, 620), (70, 920), (80, 920)]), range(31, 40))
    found = judge(lost, recipe(ramp(920, max_rate_c_per_min=25.0)))
    assert "went 30" in found.segments[0].why


def test_blanks_make_no_rate() -> None:
    blank = with_readings(RISE, "tc2_c", dict.fromkeys(range(20, 40), math.nan))
    found = judge(blank, recipe(ramp(920))).segments[0]
    assert found.rate_c_per_min == pytest.approx(10.0)


def test_two_readings_of_six_make_no_rate() -> None:
    # Beside each other, three off the line: 16 a minute between them, and nobody else read.
    lone = dict.fromkeys(range(20, 40), math.nan) | {30: 317.0, 31: 333.0}
    found = judge(with_readings(RISE, "tc2_c", lone), recipe(ramp(920))).segments[0]
    assert found.rate_c_per_min == pytest.approx(10.0)


def test_a_ramp_s_own_minutes_are_its_length() -> None:
    assert whys(FLICKER, ramp(920, max_minutes=90, min_minutes=90), soak(920)) == ["", ""]
    assert whys(FLICKER, ramp(920, max_minutes=89), soak(920))[0] == "took 90 min, 89 at most"
    assert whys(FLICKER, ramp(920, min_minutes=90.5), soak(920))[0] == "90 of 90.5 min"


def test_a_point_on_the_way_need_not_hold_the_whole_load_at_once() -> None:
    # The thermocouples lie 30 apart, the band of the change of rate is 10 wide.
    spread = run([(0, 20), (48, 500), (132, 920), (220, 920)], offsets=(-15, 0, 15))
    asked = recipe(
        ramp(500, 5, name="fast", max_rate_c_per_min=10.1),
        ramp(920, 20, name="slow", max_rate_c_per_min=5.5),
        soak(920, 20, min_minutes=60),
    )

    found = judge(spread, asked)

    # The slowest, 15 below, is at 495 with the line at 510, two minutes past the corner.
    assert [one.last for one in found.segments[:1]] == [50]
    assert found.met


def test_a_quench_may_pass_a_point_between_two_samples() -> None:
    fast = [(0, 20), (90, 900), (150, 900), (151, 610), (152, 390), (155, 100), (200, 100)]
    asked = recipe(soak(900, min_minutes=60), ramp(500, 20), ramp(100, 20))

    _, through, down = judge(run(fast), asked).segments

    assert (through.first, through.last, down.last) == (150, 152, 155)
    assert (through.met, down.met) == (True, True)


def test_a_ramp_that_passes_its_last_target_on_heating_is_not_met() -> None:
    (why,) = whys(run([(0, 20), (60, 620), (70, 640)]), ramp(600, 10))
    assert why == "tc3_c read 642 °C at 4200 s, above 610 °C"


def test_a_load_heated_again_after_the_recipe_is_not_met() -> None:
    again = run([(0, 20), (90, 920), (160, 920), (250, 300), (350, 920), (420, 920)])

    *_, why = whys(again, ramp(920), soak(920, min_minutes=60), ramp(300))

    assert why == "tc3_c read 922 °C at 21000 s, above 350 °C after the recipe was over"


def test_a_run_that_ends_early_leaves_what_follows_not_met() -> None:
    asked = (ramp(920, name="heat"), soak(920, min_minutes=60), ramp(500, name="cool"))

    assert whys(until(FLICKER, 120), *asked) == [
        "",
        "30 of 60 min in band",
        "the record ends before this segment began",
    ]
    heat, soaked, cool = whys(until(FLICKER, 40), *asked)
    assert heat == soaked == "never all within 920 ± 8 °C: tc1_c came no nearer than 418 °C"
    assert cool == "not begun: heat before it was never reached"


def test_a_ramp_under_way_at_the_record_s_end_is_not_met() -> None:
    *_, cool = judge(
        until(FLICKER, 240), recipe(ramp(920), soak(920, min_minutes=60), ramp(500))
    ).segments

    assert (cool.met, cool.first, cool.last, cool.minutes) == (False, 221, 240, 19.0)
    assert cool.why == "never all within 500 ± 8 °C: tc3_c came no nearer than 842 °C"


def test_segments_must_come_in_the_recipe_s_order() -> None:
    # 920 first and 500 after it; the recipe wants it the other way round.
    wrong = run([(0, 20), (90, 920), (160, 920), (260, 500), (330, 500)])
    asked = recipe(
        soak(500, name="low", min_minutes=60), soak(920, name="high", min_minutes=60)
    )

    low, high = judge(wrong, asked).segments

    assert (low.met, high.met) == (False, True)
    assert low.minutes < 2.0


def test_one_sample_is_judged_without_falling() -> None:
    found = judge(until(FLICKER, 0), recipe(ramp(920), soak(920), ramp(500)))
    assert (found.verdict, found.under_way) == ("not met", 0)
    assert judge(until(run([(0, 920), (5, 920)]), 0), recipe(soak(920))).met

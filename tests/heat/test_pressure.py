"""Pressure: its band within a soak, where a ramp ends, and how it tells holds apart."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from ringwright.heat.judge import Judged, judge
from ringwright.heat.recipe import Segment
from tests.heat.make_cycles import Corners, ramp, recipe, run, soak, until, with_readings

HEATING = [(0, 20), (90, 920), (220, 920), (325, 500), (330, 480)]
HEAT = ramp(920, name="heat")
COOL = ramp(500, name="cool")
BOND = soak(920, name="bond", min_minutes=25, pressure_kpa=0, pressure_tolerance_kpa=20)
FORM = soak(920, name="form", min_minutes=80, pressure_kpa=350, pressure_tolerance_kpa=20)
PRESS = ramp(920, name="press", pressure_kpa=350, pressure_tolerance_kpa=20)
VENT = ramp(500, name="cool", pressure_kpa=0, pressure_tolerance_kpa=20)


def of(pressure: Corners, *segments: Segment) -> list[Judged]:
    return list(judge(run(HEATING, pressure=pressure), recipe(*segments)).segments)


def test_pressure_in_band_through_the_soak_is_met_edges_included() -> None:
    for level in (330, 350, 370):
        assert of([(0, level), (400, level)], HEAT, FORM, COOL)[1].met


def test_pressure_out_of_band_fails_the_soak_and_stops_no_clock() -> None:
    lost = [(0, 350), (150, 350), (151, 320), (160, 320), (161, 350), (400, 350)]

    _, form, _ = of(lost, HEAT, FORM, COOL)

    assert (form.met, form.minutes, form.out_of_band_minutes) == (False, 131.0, 0.0)
    assert form.why == "pressure out of 350 ± 20 kPa at 9060 s, at worst 320 kPa"


def test_one_reading_out_of_the_pressure_s_band_is_enough() -> None:
    trace = run(HEATING, pressure=[(0, 350), (400, 350)])
    spiked = with_readings(trace, "pressure_kpa", {150: 370.1})
    assert not judge(spiked, recipe(HEAT, FORM, COOL)).met


def test_a_recipe_that_asks_for_pressure_is_not_met_without_a_record_of_it() -> None:
    judgement = judge(run(HEATING), recipe(HEAT, FORM, VENT))

    assert [one.met for one in judgement.segments] == [True, False, False]
    assert judgement.segments[1].why == "no pressure was recorded, and the recipe asks for one"
    blank = run(HEATING, pressure=[(0, math.nan), (400, math.nan)])
    assert [one.met for one in judge(blank, recipe(HEAT, FORM, VENT)).segments] == [
        True,
        False,
        False,
    ]


def test_a_pressure_that_is_silent_for_long_is_not_met() -> None:
    trace = run(HEATING, pressure=[(0, 350), (400, 350)])
    short = with_readings(trace, "pressure_kpa", dict.fromkeys(range(150, 152), math.nan))
    long = with_readings(trace, "pressure_kpa", dict.fromkeys(range(150, 160), math.nan))

    assert judge(short, recipe(HEAT, FORM, COOL)).met
    why = judge(long, recipe(HEAT, FORM, COOL)).segments[1].why
    assert why == "no reading of the pressure at 9000 s, where 350 ± 20 kPa is asked"


def test_pressure_that_comes_after_the_soak_began_is_too_late() -> None:
    _, form, _ = of([(0, 0), (95, 0), (100, 350), (400, 350)], HEAT, FORM, COOL)
    assert (form.first, form.met) == (90, False)


def test_a_ramp_s_pressure_is_where_it_ends() -> None:
    ends = ramp(920, name="heat", pressure_kpa=350, pressure_tolerance_kpa=20)
    rising = [(0, 0), (80, 0), (90, 335), (100, 350), (400, 350)]

    assert of(rising, ends, FORM, COOL)[0].met
    late = of([(0, 0), (88, 0), (98, 350), (400, 350)], ends, FORM, COOL)[0]
    assert late.why == "pressure 70 kPa at 5400 s, where 350 ± 20 kPa is asked"


def test_two_soaks_at_one_temperature_part_where_the_pressure_leaves() -> None:
    # 0 up to minute 120, up by 35 a minute, at 350 from minute 130.
    _, bond, form, _ = of(
        [(0, 0), (120, 0), (130, 350), (220, 350), (224, 0), (400, 0)], HEAT, BOND, FORM, VENT
    )

    assert (bond.first, bond.last, bond.met) == (90, 120, True)
    # In its band from 330: minute 129.4, so the sample of minute 130.
    assert (form.first, form.last, form.met) == (130, 220, True)


def test_a_step_of_the_pressure_parts_them_between_two_samples() -> None:
    stepped = [(0, 0), (129.99, 0), (130, 350), (400, 350)]
    _, bond, form, _ = of(stepped, HEAT, BOND, FORM, COOL)
    assert (bond.last, form.first, bond.met, form.met) == (129, 130, True, True)


def test_a_ramp_of_the_pressure_alone_lies_between_them() -> None:
    pressed = [(0, 0), (120, 0), (130, 350), (400, 350)]

    _, bond, press, form, _ = of(pressed, HEAT, BOND, PRESS, FORM, COOL)

    assert [(one.first, one.last) for one in (bond, press, form)] == [
        (90, 120), (120, 130), (130, 221),
    ]  # fmt: skip
    assert (bond.met, press.met, form.met, press.minutes) == (True, True, True, 10.0)


@pytest.mark.parametrize(("most", "met"), [(35.0, True), (34.9, False)])
def test_the_pressure_s_own_rate_is_judged(most: float, met: bool) -> None:
    limited = ramp(
        920, name="press", pressure_kpa=350, pressure_tolerance_kpa=20,
        max_pressure_rate_kpa_per_min=most,
    )  # fmt: skip
    pressed = [(0, 0), (120, 0), (130, 350), (400, 350)]

    press = of(pressed, HEAT, BOND, limited, FORM, COOL)[2]

    assert press.met is met
    assert met or press.why == "pressure went 35 kPa/min from 7200 s, 34.9 at most"


def test_a_load_that_dips_while_the_pressure_rises_is_seen() -> None:
    pressed = [(0, 0), (120, 0), (130, 350), (400, 350)]
    trace = run(HEATING, pressure=pressed)
    cold = with_readings(trace, "tc1_c", dict.fromkeys(range(122, 129), 890.0))

    press = judge(cold, recipe(HEAT, BOND, PRESS, FORM, COOL)).segments[2]

    assert press.why == "out of band for 7 min from 7320 s, 5 min at most"


def test_a_soak_without_pressure_keeps_what_stood_until_the_next_asks() -> None:
    plain = soak(920, name="bond", min_minutes=25)
    _, bond, form, _ = of([(0, 0), (120, 0), (130, 350), (400, 350)], HEAT, plain, FORM, COOL)
    assert (bond.last, form.first) == (120, 130)


def test_a_ramp_at_another_pressure_lets_the_soak_wait_for_its_own() -> None:
    low = ramp(920, name="heat", pressure_kpa=0, pressure_tolerance_kpa=20)

    heat, form, _ = of([(0, 0), (91, 0), (101, 350), (400, 350)], low, FORM, COOL)

    assert (heat.met, heat.last, form.first, form.met) == (True, 90, 101, True)


def test_a_ramp_s_pressure_may_step_on_where_the_soak_begins() -> None:
    low = ramp(920, name="heat", pressure_kpa=0, pressure_tolerance_kpa=20)
    stepped = [(0, 0), (89.99, 0), (90, 350), (400, 350)]

    heat, form, _ = of(stepped, low, FORM, COOL)

    assert (heat.met, form.first, form.met) == (True, 90, True)
    early = [(0, 0), (88.99, 0), (89, 350), (400, 350)]
    assert not of(early, low, FORM, COOL)[0].met


def test_a_vent_ends_the_soak_though_the_load_is_still_in_band() -> None:
    _, form, cool = of([(0, 350), (200, 350), (205, 0), (400, 0)], HEAT, FORM, VENT)

    assert (form.last, form.minutes, form.met) == (200, 110.0, True)
    assert (cool.first, cool.met) == (200, True)


def test_a_pressure_that_was_lost_did_not_leave() -> None:
    # From minute 181 it stands at 300, or at 150, for forty minutes; only then it is vented.
    for lost in (300, 150):
        stood = [(0, 350), (180, 350), (181, lost), (220, lost), (225, 0), (400, 0)]
        _, form, _ = of(stood, HEAT, FORM, VENT)
        assert (form.met, form.minutes) == (False, 131.0)
        assert "pressure out of 350 ± 20 kPa at 10860 s" in form.why


def test_a_pressure_that_leaves_and_comes_back_did_not_leave() -> None:
    blip = [
        (0, 350),
        (150, 350),
        (151, 0),
        (160, 0),
        (161, 350),
        (220, 350),
        (224, 0),
        (400, 0),
    ]

    _, form, _ = of(blip, HEAT, FORM, VENT)

    assert (form.last, form.minutes, form.met) == (220, 130.0, False)


@pytest.mark.parametrize("minute", [126, 140, 165, 185])
def test_a_run_under_way_is_not_blamed_while_the_pressure_is_on_its_way(minute: float) -> None:
    """Seventy minutes from one level to the next, which no quarter of an hour decides."""
    trace = run(HEATING, pressure=[(0, 0), (125, 0), (195, 350), (400, 350)])
    asked = recipe(HEAT, BOND, PRESS, replace(FORM, min_minutes=20), COOL)

    under_way = judge(until(trace, minute), asked)

    assert [one.faults for one in under_way.segments] == [()] * 5
    assert under_way.segments[1].met
    assert judge(trace, asked).met


def test_a_pressure_that_leaves_before_the_soak_had_its_minutes_is_blamed_at_once() -> None:
    trace = run(HEATING, pressure=[(0, 0), (95, 0), (165, 350), (400, 350)])

    bond = judge(until(trace, 105), recipe(HEAT, BOND, PRESS, FORM, COOL)).segments[1]

    assert bond.faults[0].startswith("pressure out of 0 ± 20 kPa at")


def test_a_pressure_that_never_came_leaves_its_soak_unbegun() -> None:
    _, bond, form, _ = of([(0, 0), (400, 0)], HEAT, BOND, FORM, COOL)

    assert (bond.last, bond.met, form.start, form.met) == (221, True, None, False)
    assert form.why == "the pressure never came to 350 ± 20 kPa at 920 ± 8 °C"


def test_soaks_that_nothing_tells_apart_follow_by_the_clock() -> None:
    first, second = soak(920, name="a", min_minutes=60), soak(920, 5, name="b", min_minutes=60)

    _, a, b, _ = judge(run(HEATING), recipe(HEAT, first, second, COOL)).segments

    assert (a.first, a.last, b.first, b.last) == (90, 150, 150, 220)
    assert (a.met, b.met) == (True, True)

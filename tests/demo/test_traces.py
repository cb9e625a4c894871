"""What the recorder of the demo writes: its physics, and that it is the same each time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import curve_fit

from ringwright.heat.judge import as_json, judge
from ringwright.heat.packing import pack, unpack
from ringwright.heat.reading import merged
from ringwright.heat.trace import Trace
from seed_demo.furnaces import REVISIONS, recipe_of
from seed_demo.traces import (
    ABORTED,
    CHANNELS,
    DEAD,
    GAP,
    SLIDE,
    STARVED,
    STUCK,
    Cycle,
    batch_of,
    batches_of,
    cycle_from,
    minutes_of,
    trace_of,
)

BEGAN_US = 1_790_000_000_000_000


def cycle(number: int = 1, **given: object) -> Cycle:
    """A run of one of the two furnaces."""
    furnace = f"INF-{1 + number % 2}"
    plain = Cycle(
        run=f"{furnace}-{number:04}",
        furnace=furnace,
        revision="1",
        began_us=BEGAN_US + number * 40_000_000_000,
        parts=1 + number % 4,
    )
    return replace(plain, **given)  # type: ignore[arg-type]


def minutes(trace: Trace) -> np.ndarray:
    return np.asarray((trace.at_s - trace.at_s[0]) / 60.0)


def verdict(one: Cycle) -> tuple[str, list[str]]:
    answer = as_json(judge(trace_of(one), recipe_of(one.revision)))
    return answer["verdict"], answer["channels_failed"]


@pytest.mark.parametrize("number", range(6))
def test_the_load_comes_to_its_temperature_as_a_first_order_lag_does(number: int) -> None:
    """Solved by scipy from the record alone: T = T_end - D exp(-t / tau), tau of minutes.

    J. P. Holman, Heat Transfer, lumped capacity (from memory); Newton's law of cooling after.
    """
    trace = trace_of(cycle(number))
    minute = minutes(trace)
    hot = (minute > 181) & (minute < 215)
    falling = minute > minute[-1] - 130
    load = np.mean(list(trace.temperatures_c.values()), axis=0)

    (_, _, heating), _ = curve_fit(
        lambda t, end, short, tau: end - short * np.exp(-(t - 181) / tau),
        minute[hot], load[hot], p0=(912, 15, 6),
    )  # fmt: skip
    (_, cooling), _ = curve_fit(
        lambda t, start, tau: 24 + start * np.exp(-t / tau),
        minute[falling] - minute[falling][0], load[falling], p0=(800, 120),
    )  # fmt: skip

    assert 4.5 < heating < 8.5
    assert 112 < cooling < 132


def test_it_is_hot_for_about_four_and_a_half_hours_and_the_argon_rises_slowly() -> None:
    for number in range(20):
        trace = trace_of(cycle(number, revision=REVISIONS[number % 2]))
        coldest = np.min(list(trace.temperatures_c.values()), axis=0)
        assert trace.pressure_kpa is not None

        assert 4.2 * 60 < np.sum(coldest >= 900) < 5.1 * 60
        assert np.min(trace.pressure_kpa) > 0
        assert np.max(np.diff(trace.pressure_kpa[:-1])) < 15


@pytest.mark.parametrize("revision", REVISIONS)
def test_good_cycles_are_met_and_bad_ones_are_not(revision: str) -> None:
    for number in range(25):
        one = cycle(number, revision=revision)
        zone = number % 5

        assert verdict(one) == ("met", [])
        assert verdict(replace(one, fate=GAP)) == ("met", [])
        assert verdict(replace(one, fate=STUCK, stuck_min=18.0)) == ("met", [])
        assert verdict(replace(one, fate=SLIDE, zone=zone)) == ("not met", [])
        assert verdict(replace(one, fate=STARVED)) == ("not met", [])
        assert verdict(replace(one, fate=ABORTED))[0] == "not met"
        assert verdict(replace(one, fate=DEAD, zone=zone)) == ("met", [CHANNELS[zone]])


@pytest.mark.parametrize("number", range(4))
def test_a_good_cycle_under_way_is_blamed_for_nothing(number: int) -> None:
    one = cycle(number, revision=REVISIONS[number % 2])
    recipe = recipe_of(one.revision)

    for samples in range(1, trace_of(one).size + 1, 9):
        judgement = judge(batch_of(one, 0, samples), recipe)
        assert [segment.faults for segment in judgement.segments] == [()] * 5, samples


def test_a_zone_that_ages_reads_colder_and_its_neighbours_do_not() -> None:
    well, aged = (trace_of(cycle(3, zone=2, aged_c=by)) for by in (0.0, -6.0))

    for place, name in enumerate(CHANNELS):
        before, now = (np.mean(one.temperatures_c[name][260:380]) for one in (well, aged))
        assert now - before == pytest.approx(-6.0 if place == 2 else 0.0, abs=0.3)


def test_the_same_cycle_is_recorded_the_same_and_another_is_not() -> None:
    one, again = trace_of(cycle(5)), trace_of(cycle_from(cycle(5).data()))

    assert pack(one) == pack(again)
    assert pack(one) != pack(trace_of(cycle(6)))
    assert one.size == minutes_of(cycle(5)) + 1


@pytest.mark.parametrize("fate", [STARVED, GAP, ABORTED])
def test_the_batches_handed_in_put_together_are_the_whole_record(fate: str) -> None:
    one = cycle(8, fate=fate)
    batches = batches_of(one)

    whole = merged([unpack(pack(batch_of(one, first, last))) for _, first, last in batches])

    assert pack(whole) == pack(trace_of(one))
    for at_us, _, last in batches:
        handed_in_s = at_us / 1e6 - trace_of(one).at_s[last - 1]
        assert 0 < handed_in_s < 180 + 8 * 60  # nothing is handed in before it was read

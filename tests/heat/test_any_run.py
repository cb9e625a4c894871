"""What is so of every run and every recipe, however odd."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.heat.judge import as_json, judge
from ringwright.heat.recipe import KINDS, Recipe, Segment
from ringwright.heat.toml import recipe_data, recipe_from
from ringwright.heat.trace import Trace
from tests.heat.make_cycles import run

CELSIUS = st.sampled_from([20.0, 300.0, 500.0, 510.0, 900.0, 920.0])
KPA = st.sampled_from([0.0, 100.0, 350.0])


def segments() -> st.SearchStrategy[Segment]:
    minutes = st.one_of(st.none(), st.sampled_from([0.0, 10.0, 60.0]))
    return st.builds(
        lambda kind, target, tolerance, least, most, pressure: Segment(
            name="x",
            kind=kind,
            target_c=target,
            tolerance_c=tolerance,
            min_minutes=least,
            max_minutes=most,
            max_rate_c_per_min=10.0,
            pressure_kpa=pressure,
            pressure_tolerance_kpa=None if pressure is None else 20.0,
        ),
        st.sampled_from(KINDS),
        CELSIUS,
        st.sampled_from([0.0, 5.0, 20.0]),
        minutes,
        st.one_of(st.none(), st.just(90.0)),
        st.one_of(st.none(), KPA),
    )


@st.composite
def runs(draw: st.DrawFn) -> Trace:
    stops = draw(st.integers(1, 7))
    minutes = np.cumsum([draw(st.sampled_from([1, 5, 40, 90])) for _ in range(stops)])
    corners = [(0.0, 20.0), *((float(m), draw(CELSIUS)) for m in minutes)]
    pressure = None
    if draw(st.booleans()):
        pressure = [(0.0, 0.0), *((float(m), draw(KPA)) for m in minutes)]
    trace = run(
        corners,
        pressure=pressure,
        step_s=draw(st.sampled_from([20.0, 60.0, 600.0])),
        offsets=draw(st.sampled_from([(0.0,), (-2.0, 0.0, 2.0), (-15.0, 15.0)])),
    )
    return _damaged(draw, trace)


def _damaged(draw: st.DrawFn, trace: Trace) -> Trace:
    """The same run, some samples gone, some readings blank or odd."""
    places = st.integers(0, trace.size - 1)
    columns = {name: read.copy() for name, read in trace.temperatures_c.items()}
    for read in columns.values():
        for _ in range(draw(st.integers(0, 3))):
            first = draw(places)
            read[first : first + draw(st.integers(1, 40))] = draw(
                st.sampled_from([math.nan, -9999.0, 20.0, 925.0, 1700.0])
            )
    gone = [draw(places) for _ in range(draw(st.integers(0, 5)))] if trace.size > 8 else []
    kept = np.setdiff1d(np.arange(trace.size), gone)
    return Trace(
        at_s=trace.at_s[kept],
        temperatures_c={name: read[kept] for name, read in columns.items()},
        pressure_kpa=None if trace.pressure_kpa is None else trace.pressure_kpa[kept],
        stamps=tuple(trace.stamps[place] for place in kept),
        clock=trace.clock,
    )


RECIPES = st.builds(
    lambda some, least, ceiling: Recipe(
        segments=tuple(some), min_channels=least, ceiling_c=ceiling
    ),
    st.lists(segments(), min_size=1, max_size=6),
    st.integers(1, 3),
    st.sampled_from([None, 930.0]),
)


@settings(max_examples=150)
@given(trace=runs(), recipe=RECIPES)
def test_a_judgement_holds_together(trace: Trace, recipe: Recipe) -> None:
    found = judge(trace, recipe)

    json.dumps(as_json(found), allow_nan=False)
    assert len(found.segments) == len(recipe.segments)
    assert (found.verdict == "met") is all(one.met for one in found.segments)
    assert all(one.why for one in found.segments if not one.met)
    begun = [one.first for one in found.segments if one.first is not None]
    assert begun == sorted(begun)
    for one in found.segments:
        assert (one.start is None) is (one.first is None) is (one.last is None)
        if one.start_s is not None and one.end_s is not None:
            elapsed = (one.end_s - one.start_s) / 60.0
            assert (
                one.minutes + one.out_of_band_minutes * (one.kind == "soak") <= elapsed + 1e-6
            )


@settings(max_examples=60)
@given(trace=runs(), recipe=RECIPES)
def test_neither_the_hour_nor_the_order_of_channels_matters(
    trace: Trace, recipe: Recipe
) -> None:
    later = replace(
        trace,
        at_s=trace.at_s + 86_400.0 * 365,
        temperatures_c=dict([*trace.temperatures_c.items()][::-1]),
    )

    one, other = judge(trace, recipe), judge(later, recipe)

    assert one.verdict == other.verdict
    assert set(one.channels_failed) == set(other.channels_failed)
    spans = [[(s.first, s.last, round(s.minutes, 6)) for s in j.segments] for j in (one, other)]
    assert spans[0] == spans[1]


@given(recipe=RECIPES)
def test_every_recipe_that_is_sound_comes_back_from_the_record(recipe: Recipe) -> None:
    top = max(one.target_c for one in recipe.segments)
    if recipe.ceiling_c is None or recipe.ceiling_c >= top:
        assert recipe_from(json.loads(json.dumps(recipe_data(recipe)))) == recipe

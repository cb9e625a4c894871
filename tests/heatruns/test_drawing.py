"""The picture of a run: where things stand, and that nothing which decides is lost on the way.

Outside: pandas resamples the same readings; the figures of corridors and clocks are worked by
hand beside each check.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from ringwright.heat.judge import judge
from ringwright.heat.recipe import RAMP, SOAK, Recipe, Segment
from ringwright.heat.trace import Floats, Trace
from ringwright.heatruns.ahead import laid_ahead, laid_unreached
from ringwright.heatruns.breaks import ABOVE, BELOW, CEILING, PRESSURE, Laid, laid_of
from ringwright.heatruns.drawing import BUCKETS, draw_run
from ringwright.heatruns.frame import HEIGHT, hours
from ringwright.heatruns.lines import HALF, WIDE, Window, path_of, spread
from ringwright.heatruns.picture import Pictured, TraceDrawing
from ringwright.kit.charts import Scale

START_S = 1_760_000_000.0
RECIPE = Recipe(
    code="R",
    ceiling_c=950.0,
    segments=(
        Segment(name="heat", kind=RAMP, target_c=900.0, tolerance_c=10.0),
        Segment(
            name="form", kind=SOAK, target_c=900.0, tolerance_c=10.0, min_minutes=60.0,
            pressure_kpa=500.0, pressure_tolerance_kpa=50.0,
        ),
        Segment(name="down", kind=RAMP, target_c=600.0, tolerance_c=20.0),
        Segment(name="age", kind=SOAK, target_c=600.0, tolerance_c=20.0, min_minutes=30.0),
    ),
)  # fmt: skip


def cycle(channels: int = 2, step_s: float = 10.0) -> Trace:
    """An hour up, two held, one down, one held; a whole degree between channels."""
    at_s = np.arange(0.0, 5 * 3600.0 + 1, step_s)
    level = np.interp(at_s / 3600.0, [0, 1, 3, 4, 5], [20, 900, 900, 600, 600])
    wave = np.sin(at_s / 100.0)
    return Trace(
        at_s=START_S + at_s,
        temperatures_c={f"tc{n + 1}_c": level + n + 0.2 * wave for n in range(channels)},
        pressure_kpa=np.interp(at_s / 3600.0, [0, 0.8, 3.05, 3.2], [500, 500, 500, 0]) + wave,
    )


def drawn(trace: Trace | None, recipe: Recipe = RECIPE, **given: float) -> TraceDrawing:
    """The picture as a page would have it."""
    laid = [Laid(segment=one) for one in recipe.segments]
    if trace is not None:
        laid = laid_of(judge(trace, recipe), recipe)
    return draw_run(Pictured(recipe=recipe, laid=laid, trace=trace, started_s=START_S, **given))


def points(path: str) -> list[list[tuple[int, int]]]:
    """The corners of each unbroken stretch of a path."""
    found = []
    for move in path.split("M")[1:]:
        head, _, rest = move.partition("l")
        x, y = (int(one) for one in re.findall(r"-?\d+", head.partition("h")[0]))
        steps = [int(one) for one in rest.split()]
        corners = [(x, y)]
        for dx, dy in zip(steps[::2], steps[1::2], strict=True):
            x, y = x + dx, y + dy
            corners.append((x, y))
        found.append(corners)
    return found


def spiked(trace: Trace, channel: str, place: int, value: float) -> Trace:
    """The same with one reading of one channel changed."""
    read = {name: values.copy() for name, values in trace.temperatures_c.items()}
    read[channel][place] = value
    return replace(trace, temperatures_c=read)


@pytest.mark.parametrize("seed", range(5))
def test_the_highest_and_lowest_of_every_pixel_stay(seed: int) -> None:
    """Outside: pandas groups the same readings into the same thousand pixels."""
    chance = np.random.default_rng(seed)
    at_s = START_S + np.sort(chance.uniform(0, 43_200, 40_000))
    values = chance.normal(900.0, 4.0, at_s.size)
    window = Window(from_s=float(at_s[0]), to_s=float(at_s[-1]))
    down = Scale(920.0, 880.0, 0.0, 300.0)

    path, _ = path_of(at_s, values, window, down, BUCKETS)

    pixel = ((at_s - window.from_s) / window.span_s * BUCKETS).astype(int).clip(0, BUCKETS - 1)
    most = pd.Series(values).groupby(pixel).agg(["min", "max"])
    corners = [corner for stretch in points(path) for corner in stretch]
    y_of: dict[int, tuple[int, int]] = {}
    for x, y in corners:
        low, high = y_of.get(x, (y, y))
        y_of[x] = (min(low, y), max(high, y))
    for place, row in zip(most.index.tolist(), most.to_dict("records"), strict=True):
        # A reading stands within half a unit of its pixel's edges, to half a pixel down.
        near = [y_of[x] for x in (place, place + 1) if x in y_of]
        top = HALF * (920.0 - row["max"]) / 40.0 * 300.0
        bottom = HALF * (920.0 - row["min"]) / 40.0 * 300.0
        assert min(one[0] for one in near) <= top + 0.51
        assert max(one[1] for one in near) >= bottom - 0.51


def test_one_hot_second_in_twelve_hours_is_drawn_and_ringed() -> None:
    trace = spiked(cycle(step_s=1.0), "tc2_c", 7000, 931.0)

    drawing = drawn(trace)

    line = next(one for one in drawing.panel.lines if one.code == "tc2_c")
    top = min(y for stretch in points(line.path) for _, y in stretch)
    hottest = drawing.panel.marks[0]
    assert hottest.found.value == 931.0
    assert (hottest.found.way, hottest.found.channel) == (ABOVE, "tc2_c")
    assert abs(top / HALF - hottest.y) <= 0.5
    assert hottest.x == pytest.approx(100.0 * 7000 / 18_000, abs=0.01)


def test_a_gap_breaks_the_line_and_is_hatched() -> None:
    whole = cycle()
    kept = np.ones(whole.size, dtype=bool)
    kept[400:700] = False
    trace = Trace(
        at_s=whole.at_s[kept],
        temperatures_c={name: read[kept] for name, read in whole.temperatures_c.items()},
        pressure_kpa=None if whole.pressure_kpa is None else whole.pressure_kpa[kept],
    )

    drawing = drawn(trace)

    (hole,) = drawing.panel.holes
    # Readings 399 and 700 are 3,010 s apart, of 18,000 s in all.
    assert hole.found.minutes == pytest.approx(3010 / 60)
    assert hole.width == pytest.approx(100.0 * 3010 / 18_000, abs=0.02)
    for line in drawing.panel.lines:
        stretches = points(line.path)
        assert len(stretches) == 2
        assert stretches[0][-1][0] <= 222
        assert stretches[1][0][0] >= 388


def test_a_lone_reading_between_blanks_is_a_dot() -> None:
    at_s = np.arange(5.0)
    values = np.array([np.nan, np.nan, 5.0, np.nan, np.nan])
    window = Window(from_s=0.0, to_s=4.0)

    path, end = path_of(at_s, values, window, Scale(10.0, 0.0, 0.0, 100.0), 10)

    assert path == f"M{WIDE // 2} 100h0"
    assert end == 50.0


def test_nothing_read_has_no_line() -> None:
    window = Window(from_s=0.0, to_s=4.0)
    blank = np.full(5, np.nan)

    assert path_of(np.arange(5.0), blank, window, Scale(1.0, 0.0, 0.0, 9.0), 9) == ("", None)
    later = Window(from_s=100.0, to_s=104.0)
    assert path_of(np.arange(5.0), blank + 1, later, Scale(1.0, 0.0, 0.0, 9.0), 9)[0] == ""


def test_a_straight_line_needs_two_corners() -> None:
    at_s = np.arange(10_000.0)
    window = Window(from_s=0.0, to_s=9_999.0)

    path, _ = path_of(at_s, np.full(10_000, 5.0), window, Scale(10.0, 0.0, 0.0, 100.0), 1000)

    assert path == "M0 100l1000 0"


def test_corridors_lie_where_the_judged_segments_lie() -> None:
    drawing = drawn(cycle())

    form = next(one for one in drawing.panel.corridors if one.name == "form")
    age = next(one for one in drawing.panel.corridors if one.name == "age")
    # tc1 comes into 890 to 910 at 870/880 of the first hour, tc2 a degree sooner; both leave
    # for 600 at three hours and are within 620 after 280/300 of the fourth.
    assert form.x == pytest.approx(100 * (870 / 880) / 5, abs=0.1)
    assert form.end == pytest.approx(60.0, abs=0.8)
    assert age.x == pytest.approx(100 * (3 + 281 / 300) / 5, abs=0.2)
    assert age.end == 100.0
    down = Scale(*_scale_ends(drawing), 0.0, float(HEIGHT))
    assert form.top == pytest.approx(down(910.0), abs=0.02)
    assert form.bottom == pytest.approx(down(890.0), abs=0.02)
    assert [one.ahead for one in drawing.panel.corridors] == [False] * 4


def _scale_ends(drawing: TraceDrawing) -> tuple[float, float]:
    """The figures at the top and the bottom of the box, from two of its ticks."""
    first, last = drawing.panel.ticks[0], drawing.panel.ticks[-1]
    per_px = (last.value - first.value) / (last.at - first.at)
    return first.value - first.at * per_px, first.value + (HEIGHT - first.at) * per_px


def test_the_clock_under_a_soak_runs_as_long_as_it_was_judged() -> None:
    trace = cycle()
    cold = {name: values.copy() for name, values in trace.temperatures_c.items()}
    cold["tc1_c"][600:618] = 880.0
    dipped = replace(trace, temperatures_c=cold)

    drawing = drawn(dipped)
    judged = judge(dipped, RECIPE).segments[1]

    clock = drawing.clocks[0]
    ran_min = sum(width for _, width in clock.bars) / 100.0 * 300.0
    assert len(clock.bars) == 2
    assert ran_min == pytest.approx(judged.minutes, abs=0.3)
    assert (clock.minutes, clock.least) == (judged.minutes, 60.0)


def test_a_dip_that_is_allowed_is_told_from_a_broken_limit() -> None:
    trace = cycle()
    cold = {name: values.copy() for name, values in trace.temperatures_c.items()}
    cold["tc1_c"][600:612] = 880.0
    cold["tc2_c"][700:760] = 880.0

    found = drawn(replace(trace, temperatures_c=cold)).breaks

    # 12 readings of 10 s are 2 min, 60 are 10 min; the recipe allows 5.
    assert [(one.channel, one.way, one.allowed) for one in found] == [
        ("tc1_c", BELOW, True), ("tc2_c", BELOW, False),
    ]  # fmt: skip
    assert [one.minutes for one in found] == pytest.approx([2.0, 10.0])
    assert [one.limit for one in found] == [890.0, 890.0]


def test_every_break_is_found_that_a_plain_look_finds() -> None:
    """Brute force over the soak's own samples, channel by channel."""
    trace = spiked(spiked(cycle(), "tc1_c", 500, 915.0), "tc1_c", 900, 951.0)
    assert trace.pressure_kpa is not None
    pressed = trace.pressure_kpa.copy()
    pressed[800:830] = 300.0
    trace = replace(trace, pressure_kpa=pressed)

    found = drawn(trace).breaks

    assert [(one.channel, one.way, one.value) for one in found] == [
        ("tc1_c", ABOVE, 915.0),
        (PRESSURE, BELOW, 300.0),
        ("tc1_c", ABOVE, 951.0),
        ("tc1_c", CEILING, 951.0),
    ]
    assert found[1].minutes == pytest.approx(5.0)


def test_hot_on_the_way_down_is_no_broken_limit() -> None:
    """A soak at 600 is come to from 900: what was hot before it began breaks nothing."""
    assert drawn(cycle()).breaks == ()


def test_a_failed_thermocouple_stretches_no_scale_and_is_named() -> None:
    trace = cycle(3)
    read = {**trace.temperatures_c, "tc3_c": np.full(trace.size, 9_999.0)}

    drawing = drawn(replace(trace, temperatures_c=read))

    assert [line.failed for line in drawing.panel.lines] == [False, False, True]
    assert max(tick.value for tick in drawing.panel.ticks) < 1_000


def test_each_line_has_its_own_dash_mark_and_word() -> None:
    lines = drawn(cycle(12)).panel.lines

    assert len({line.style for line in lines}) == 12
    assert [line.word for line in lines] == [f"tc{n}" for n in range(1, 13)]
    labels = sorted(line.label_y for line in lines)
    assert min(np.diff(labels)) >= 14.9
    assert labels[0] >= 0
    assert labels[-1] <= HEIGHT


def test_the_pressure_has_a_panel_of_its_own() -> None:
    drawing = drawn(cycle())

    assert drawing.pressure is not None
    assert [one.name for one in drawing.pressure.corridors] == ["form"]
    assert len(drawing.pressure.lines) == 1
    bare = replace(
        RECIPE, segments=tuple(replace(one, pressure_kpa=None) for one in RECIPE.segments)
    )
    assert drawn(replace(cycle(), pressure_kpa=None), bare).pressure is None


def test_a_soak_is_enlarged_to_two_tolerances() -> None:
    trace = spiked(cycle(), "tc1_c", 700, 860.0)

    lens = drawn(trace).lenses[0]

    # 150 px stand for 40 degC: the band lies between a quarter and three quarters.
    assert (lens.panel.corridors[0].top, lens.panel.corridors[0].bottom) == (37.5, 112.5)
    assert lens.beyond
    assert [mark.y for mark in lens.panel.marks] == [150.0]


def test_what_has_not_begun_is_drawn_ahead_in_the_least_time() -> None:
    whole = cycle()
    cut = whole.at_s <= START_S + 2 * 3600
    trace = Trace(
        at_s=whole.at_s[cut],
        temperatures_c={name: read[cut] for name, read in whole.temperatures_c.items()},
        pressure_kpa=None if whole.pressure_kpa is None else whole.pressure_kpa[cut],
    )

    drawing = drawn(trace, now_s=START_S + 2 * 3600)

    ahead = [one for one in drawing.panel.corridors if one.ahead]
    # The soak has its 60 min already; a ramp that says nothing is drawn 30 min, age 30 min.
    assert [one.name for one in ahead] == ["down", "age"]
    assert [one.width for one in ahead] == pytest.approx([100 / 6, 100 / 6], abs=0.02)
    assert drawing.now_x == pytest.approx(100 * 2 / 3, abs=0.01)


def test_what_a_soak_under_way_still_asks_is_left() -> None:
    laid = [Laid(segment=one) for one in RECIPE.segments]
    laid[0] = replace(laid[0], from_s=0.0, to_s=3600.0)
    laid[1] = replace(laid[1], from_s=3600.0, to_s=4800.0, minutes=20.0)

    ahead = laid_ahead(laid, 0.0, 5000.0)

    assert [(one.segment.name, one.from_s, one.to_s) for one in ahead] == [
        ("form", 5000.0, 7400.0), ("down", 7400.0, 9200.0), ("age", 9200.0, 11_000.0),
    ]  # fmt: skip
    assert ahead[0].minutes == 40.0


def test_a_soak_that_was_never_reached_is_drawn_where_it_should_have_lain() -> None:
    cold = {name: read - 40.0 for name, read in cycle().temperatures_c.items()}
    trace = replace(cycle(), temperatures_c=cold)

    drawing = drawn(trace)

    form = next(one for one in drawing.panel.corridors if one.name == "form")
    assert form.ahead
    assert form.width > 10.0
    clock = next(one for one in drawing.clocks if one.name == "form")
    assert (clock.minutes, clock.least, clock.ahead, clock.bars) == (0.0, 60.0, False, ())


def test_missed_segments_share_the_time_between_those_that_were_reached() -> None:
    laid = [Laid(segment=one) for one in RECIPE.segments]
    laid[0] = replace(laid[0], from_s=0.0, to_s=100.0)
    laid[3] = replace(laid[3], from_s=300.0, to_s=400.0)

    found = laid_unreached(laid, 0.0, 500.0)

    assert [(one.segment.name, one.from_s, one.to_s) for one in found] == [
        ("form", 100.0, 200.0), ("down", 200.0, 300.0),
    ]  # fmt: skip


def test_a_ramp_ahead_takes_as_long_as_its_largest_rate() -> None:
    ramp = Segment(
        name="r", kind=RAMP, target_c=900.0, tolerance_c=5.0, max_rate_c_per_min=10.0
    )

    (one,) = laid_ahead([Laid(segment=ramp)], 0.0, 0.0)

    # From 20 degC, 880 degC at 10 a minute.
    assert one.to_s == 88 * 60.0


def test_the_recipe_alone_is_drawn_before_anything_is_read() -> None:
    drawing = drawn(None)

    assert drawing.panel.lines == ()
    assert [one.ahead for one in drawing.panel.corridors] == [True] * 4
    assert drawing.pressure is not None


@pytest.mark.parametrize(
    ("hours_long", "apart_s"), [(0.5, 300), (2, 1800), (5, 3600), (12, 7200), (60, 43_200)]
)
def test_hours_are_round_by_the_site_s_clock(hours_long: float, apart_s: int) -> None:
    """Midnight of 1 October 2026 in Oslo is 22:00 UTC of the day before."""
    midnight_s = pd.Timestamp("2026-10-01", tz="Europe/Oslo").timestamp()
    window = Window(from_s=midnight_s + 100, to_s=midnight_s + 100 + hours_long * 3600)

    ticks = hours(window, 7200.0, 6)

    assert 2 <= len(ticks) <= 7
    local = [pd.Timestamp(one.value, unit="s", tz="Europe/Oslo") for one in ticks]
    since = [(one - one.normalize()).total_seconds() for one in local]
    assert all(one % min(apart_s, 43_200) == 0 for one in since)
    assert float(np.diff([one.value for one in ticks])[0]) == apart_s


@pytest.mark.parametrize("wanted", [[5.0] * 6, [0.0, 1.0, 99.0, 100.0], [], [300.0, -300.0]])
def test_words_at_the_ends_of_lines_keep_apart(wanted: list[float]) -> None:
    found = spread(wanted, 12.0, 0.0, 100.0)

    order = [found[n] for n in sorted(range(len(wanted)), key=lambda n: (wanted[n], n))]
    assert order == sorted(order)
    assert all(gap >= 11.9 for gap in np.diff(order))
    assert all(0.0 <= one <= 100.0 for one in found)


def test_too_many_words_stand_evenly() -> None:
    found = spread([50.0] * 21, 12.0, 0.0, 100.0)

    assert found == pytest.approx([5.0 * n for n in range(21)])


def test_a_reading_far_apart_keeps_its_place() -> None:
    assert spread([10.0, 50.0, 90.0], 12.0, 0.0, 100.0) == [10.0, 50.0, 90.0]


def test_an_empty_trace_is_as_none() -> None:
    empty: Floats = np.empty(0)
    trace = Trace(at_s=empty, temperatures_c={"tc1_c": empty})

    laid = [Laid(segment=one) for one in RECIPE.segments]

    found = draw_run(Pictured(recipe=RECIPE, laid=laid, trace=trace, started_s=START_S))

    assert found == drawn(None)


def test_a_pressure_on_its_way_up_has_broken_nothing_while_the_run_goes_on() -> None:
    """Half of the way to 500 kPa when the readings end; it is broken if they end for good."""
    press = Segment(
        name="press", kind=RAMP, target_c=900.0, tolerance_c=10.0,
        pressure_kpa=500.0, pressure_tolerance_kpa=50.0,
    )  # fmt: skip
    even = replace(RECIPE.segments[1], name="even out", pressure_kpa=20.0, min_minutes=30.0)
    even = replace(even, pressure_tolerance_kpa=15.0)
    recipe = replace(RECIPE, segments=(RECIPE.segments[0], even, press, RECIPE.segments[1]))
    at_s = np.arange(0.0, 2 * 3600.0 + 1, 10.0)
    trace = Trace(
        at_s=START_S + at_s,
        temperatures_c={
            f"tc{n}_c": np.interp(at_s / 3600.0, [0, 1], [20, 900]) + n + np.sin(at_s / 100.0)
            for n in (1, 2)
        },
        pressure_kpa=np.interp(at_s / 3600.0, [0, 1.75, 2], [20, 20, 260]),
    )

    ended = drawn(trace, recipe).breaks
    assert [(one.channel, one.segment, one.way) for one in ended] == [
        (PRESSURE, "press", BELOW)
    ]
    assert drawn(trace, recipe, now_s=START_S + 2 * 3600.0 + 60).breaks == ()

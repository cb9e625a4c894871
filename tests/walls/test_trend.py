"""What the cuts took, what the rest will leave, and which shift would even it out."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from ringwright.walls.mapping import map_wall
from ringwright.walls.reading import WallReading
from ringwright.walls.shifting import best_shift
from ringwright.walls.trend import Removal, aligned, by_zone, expected, learned
from tests.make.walls import eccentric, make_plan, wall_of


def pair(over: float, wobble: float = 0.0, seed: int = 0) -> tuple[Removal, ...]:
    """One past case of which `over` mm more than planned was taken between 40 and 60."""
    plan, rng = make_plan(), np.random.default_rng(seed)
    after = wall_of(plan, 60, lambda _s, _a: -over + float(rng.normal(0, 1)) * wobble)
    return aligned(plan, (40, wall_of(plan, 40)), (60, after))


def test_places_are_aligned_with_the_nearest_over_the_seam() -> None:
    plan = make_plan()
    before = [WallReading(station_mm=30, angle_deg=359, wall_mm=4.0)]
    after = [WallReading(station_mm=32, angle_deg=2, wall_mm=2.5)]
    (one,) = aligned(plan, (40, before), (60, after))
    assert (one.planned_mm, one.removed_mm, one.over_mm) == (1.5, 1.5, 0.0)


def test_what_lies_half_a_gap_away_or_in_another_zone_is_not_aligned() -> None:
    plan = make_plan()
    before = [WallReading(station_mm=149, angle_deg=0, wall_mm=4.0)]
    for station, angle in ((149.0, 11.0), (118.0, 0.0), (151.0, 0.0)):
        after = [WallReading(station_mm=station, angle_deg=angle, wall_mm=2.5)]
        assert aligned(plan, (40, before), (60, after)) == ()


def test_removal_of_a_zone_is_held_against_its_planned_stock() -> None:
    front, rear = by_zone(pair(0.1))
    assert (front.planned_mm, rear.planned_mm) == (1.5, 1.0)
    assert (round(front.mean_mm, 6), round(rear.mean_mm, 6)) == (1.6, 1.1)


def test_scatter_is_that_of_the_cases_and_of_the_places_within_them() -> None:
    cases = [pair(over, 0.03, seed) for seed, over in enumerate((0.0, 0.05, 0.1, -0.03))]
    found = learned(cases)["front barrel"]
    groups = [
        np.array([one.over_mm for one in case if one.zone.name == "front barrel"])
        for case in cases
    ]
    means = np.array([one.mean() for one in groups])
    # The pooled variance within groups is the error mean square of a one-way analysis of
    # variance: F = between / within gives it back from scipy's own F.
    between = groups[0].size * means.var(ddof=1)
    within = between / stats.f_oneway(*groups).statistic
    assert found.cases == 4
    assert found.over_mm == pytest.approx(means.mean())
    assert found.scatter_mm == pytest.approx(np.sqrt(means.var(ddof=1) + within))


def test_two_past_cases_say_nothing_yet() -> None:
    assert learned([pair(0.0), pair(0.1)]) == {}


def test_the_finished_wall_is_the_present_one_less_what_is_still_to_go() -> None:
    plan = make_plan()
    found = map_wall(plan, 20, wall_of(plan, 20, eccentric(0.35, 140)), 0.02)
    told = expected(found, {})
    first = told[0]
    assert first.point.reading.angle_deg == 140
    assert first.wall_mm == pytest.approx(first.point.zone.nominal_mm - 0.35)
    assert (first.cases, first.u_mm) == (0, 0.02)
    assert first.chance_under == pytest.approx(stats.norm.cdf(0.05 / 0.02))
    assert told[-1].chance_under < 1e-6


def test_the_chance_is_a_t_distribution_s_once_past_cases_are_known() -> None:
    plan = make_plan()
    past = learned([pair(over) for over in (0.0, 0.02, 0.04, 0.06)])
    found = map_wall(plan, 40, wall_of(plan, 40, eccentric(0.2, 100)), 0.02)
    first = expected(found, past)[0]
    scatter = np.std([0.0, 0.02, 0.04, 0.06], ddof=1) * np.sqrt(1 + 1 / 4)
    u = np.hypot(0.02, scatter)
    assert first.u_mm == pytest.approx(u)
    assert first.wall_mm == pytest.approx(first.point.zone.nominal_mm - 0.2 - 0.03)
    off = (first.point.zone.lower_mm - first.wall_mm) / u
    assert first.chance_under == pytest.approx(stats.t(df=3).cdf(off))


def test_told_chances_come_true_as_often_as_told() -> None:
    """Simulated shops: of places given a chance, about that share ends under the limit."""
    rng, plan = np.random.default_rng(3), make_plan()
    told, came = [], []
    for _ in range(40):
        past = learned([pair(float(o)) for o in rng.normal(0.0, 0.05, 6)])
        thin = float(rng.uniform(0.15, 0.4))
        wall = WallReading(station_mm=30, angle_deg=0, wall_mm=4.0 - thin)
        found = map_wall(plan, 40, [wall], 0.02)
        told.append(expected(found, past)[0].chance_under)
        true = 2.5 - thin + rng.normal(0, 0.02) - rng.normal(0.0, 0.05)
        came.append(true < 2.2)
    spread = np.sqrt(sum(p * (1 - p) for p in told))
    assert abs(sum(told) - sum(came)) < 3 * spread


def test_after_the_last_cut_the_wall_is_what_was_read() -> None:
    plan = make_plan()
    told = expected(map_wall(plan, 60, wall_of(plan, 60), 0.02), learned([pair(0.1)] * 4))
    assert all(one.wall_mm == one.point.reading.wall_mm for one in told)


@pytest.mark.parametrize(("face", "towards"), [("outside", 140.0), ("inside", 320.0)])
def test_an_eccentric_wall_is_evened_out_by_its_own_offset(face: str, towards: float) -> None:
    plan = make_plan()
    found = map_wall(plan, 40, wall_of(plan, 40, eccentric(0.2, 140)), 0.02)
    shift = best_shift(expected(found, {}), face)
    assert shift is not None
    assert shift.size_mm == pytest.approx(0.2, abs=1e-6)
    assert shift.towards_deg == pytest.approx(towards, abs=1e-6)
    assert (shift.least_before_mm, shift.least_after_mm) == pytest.approx((0.1, 0.3), abs=1e-5)
    assert np.hypot(shift.squares_x_mm, shift.squares_y_mm) == pytest.approx(0.2, abs=1e-6)


def test_no_other_shift_leaves_a_larger_least_margin() -> None:
    plan, rng = make_plan(), np.random.default_rng(5)
    readings = wall_of(plan, 40, lambda _s, _a: float(rng.normal(0, 0.08)))
    places = expected(map_wall(plan, 40, readings, 0.02), {})
    shift = best_shift(places, "outside")
    assert shift is not None
    angle = np.radians([one.point.reading.angle_deg for one in places])
    wall = np.array([one.wall_mm for one in places])
    low = np.array([one.point.zone.lower_mm for one in places])
    high = np.array([one.point.zone.upper_mm for one in places])
    tried = np.linspace(-0.3, 0.3, 61)
    best = max(
        float(np.min(np.minimum(after - low, high - after)))
        for x in tried
        for y in tried
        for after in [wall + x * np.cos(angle) + y * np.sin(angle)]
    )
    assert best - 1e-9 <= shift.least_after_mm < best + 0.01
    assert shift.least_after_mm >= shift.least_before_mm


def test_too_few_readings_or_one_side_alone_propose_no_shift() -> None:
    plan = make_plan()
    readings = [WallReading(station_mm=30, angle_deg=a, wall_mm=4) for a in range(6)]
    places = expected(map_wall(plan, 40, readings, 0.02), {})
    assert best_shift(places[:3]) is None
    assert best_shift(places) is None

"""The map: limits of the step, guard bands, the thinnest place, cover."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.walls.harmonics import design, rounds
from ringwright.walls.mapping import map_wall, uncovered, zone_places
from ringwright.walls.reading import WallReading
from ringwright.walls.surface import surface
from tests.make.walls import ANGLES, STATIONS, eccentric, make_plan, wall_of


def at(station: float, angle: float, wall: float) -> WallReading:
    return WallReading(station_mm=station, angle_deg=angle, wall_mm=wall)


def test_the_thinnest_place_is_the_one_least_above_its_own_lower_limit() -> None:
    readings = [at(10, 0, 2.40), at(200, 137, 2.71)]
    found = map_wall(make_plan(), 60, readings, 0.01)
    assert found.thinnest is not None
    assert found.thinnest.reading.station_mm == 200  # 0.01 above 2.70; the other 0.20 above
    assert found.thinnest.zone.name == "rear barrel"


def test_a_reading_is_inside_in_the_guard_band_or_outside_after_its_step() -> None:
    # Front barrel after step 40: 3.7 to 4.3 mm; guard band 1.645 x 0.02 = 0.0329 mm
    # (ISO 14253-1:2017, default 95 % conformance probability).
    walls = {4.0: "inside", 3.733: "inside", 3.732: "in the guard band", 3.699: "outside"}
    for wall, state in walls.items():
        found = map_wall(make_plan(), 40, [at(10, 0, wall)], 0.02)
        assert found.state == state, wall


def test_a_row_that_says_how_sure_it_is_has_its_own_guard_band() -> None:
    sure = WallReading(station_mm=10, angle_deg=0, wall_mm=2.23, u_mm=0.002)
    assert map_wall(make_plan(), 60, [sure], 0.1).state == "inside"


def test_figures_of_a_zone_are_those_that_numpy_finds() -> None:
    plan = make_plan()
    readings = wall_of(plan, 60, eccentric(0.1, 140))
    found = map_wall(plan, 60, readings, 0.01)
    front = np.array([r.wall_mm for r in readings if r.station_mm < 150])
    zone = found.zones[0]
    assert zone.least is not None
    assert (zone.n, zone.least.reading.wall_mm) == (front.size, front.min())
    assert zone.mean_mm == pytest.approx(front.mean(), abs=1e-9)
    assert zone.most_mm == front.max()


def test_readings_on_the_grid_of_the_plan_cover_it() -> None:
    plan = make_plan()
    assert uncovered(plan, wall_of(plan, 60)) == ((), 0.0)


def test_a_gap_is_named_and_a_turn_has_no_seam() -> None:
    plan = make_plan()
    readings = [r for r in wall_of(plan, 60) if not (r.station_mm > 200 and r.angle_deg < 90)]
    places, share = uncovered(plan, readings)
    assert 0.05 < share < 0.15
    assert all(one.station_mm > 150 for one in places)
    assert all(one.angle_deg < 90 or one.angle_deg > 340 for one in places)
    shares = [
        uncovered(plan, [r for r in wall_of(plan, 60) if r.angle_deg != angle])[1]
        for angle in (0.0, 180.0)
    ]
    assert 0 < shares[0] == shares[1]


def test_nothing_read_leaves_everything_uncovered() -> None:
    assert uncovered(make_plan(), [])[1] == 1.0


def test_places_of_zones_are_the_same_for_many_at_once() -> None:
    plan = make_plan()
    stations, angles = np.array([0.0, 149.9, 150.0, 300.0]), np.array([0.0, 90, 180, 359])
    one_by_one = [plan.zone_place(s, a) for s, a in zip(stations, angles, strict=True)]
    assert list(zone_places(plan, stations, angles)) == one_by_one


def test_harmonics_are_what_numpy_s_least_squares_finds() -> None:
    plan = make_plan()
    rng = np.random.default_rng(7)
    noise = {(s, a): float(rng.normal(0, 0.02)) for s in STATIONS for a in ANGLES}
    readings = wall_of(plan, 60, lambda s, a: eccentric(0.12, 137)(s, a) + noise[s, a])
    found = rounds(map_wall(plan, 60, readings, 0.01).points)
    assert len(found) == len(STATIONS)
    for one in found:
        mine = [r for r in readings if r.station_mm == one.station_mm]
        angles = np.array([r.angle_deg for r in mine])
        nominal = 2.5 if one.station_mm < 150 else 3.0
        off = np.array([r.wall_mm for r in mine]) - nominal
        # Even angles: a harmonic is twice the mean of the product (discrete Fourier series).
        t = np.radians(angles)
        a1, b1 = 2 * np.mean(off * np.cos(t)), 2 * np.mean(off * np.sin(t))
        assert one.eccentric_mm == pytest.approx(np.hypot(a1, b1), abs=1e-9)
        spectrum = np.fft.rfft(off) / off.size
        assert one.eccentric_mm == pytest.approx(2 * abs(spectrum[1]), abs=1e-9)
        assert one.oval_mm == pytest.approx(2 * abs(spectrum[2]), abs=1e-9)
        assert abs(one.thin_deg - 137) < 8
        assert one.rest_mm < 0.04
    assert design(np.array([0.0])).shape == (1, 5)


def test_the_thin_side_of_an_oval_wall_is_told_once_a_half_turn() -> None:
    plan = make_plan()
    readings = wall_of(plan, 60, lambda _s, a: -0.1 * float(np.cos(2 * np.radians(a - 40))))
    one = rounds(map_wall(plan, 60, readings, 0.01).points)[0]
    assert (round(one.oval_mm, 6), round(one.oval_thin_deg, 3)) == (0.1, 40.0)
    assert one.eccentric_mm < 1e-6


def test_readings_on_one_side_alone_tell_no_eccentricity() -> None:
    plan = make_plan()
    readings = [at(10, angle, 2.5) for angle in range(0, 60, 5)]
    assert rounds(map_wall(plan, 60, readings, 0.01).points) == ()


def test_the_drawing_goes_through_a_plane_and_over_the_seam() -> None:
    plan = make_plan()
    flat, zones = surface(plan, 60, wall_of(plan, 60), (10, 36))
    assert zones.min() == 0
    assert flat[2, 5] == pytest.approx(2.5)
    tilted = surface(plan, 60, wall_of(plan, 60, lambda s, _a: s * 1e-3), (10, 36))[0]
    assert np.allclose(flat[:5], 2.5)
    assert np.allclose(flat[5:], 3.0)  # the edge of a zone is no slope
    # Linear in the station: exact between stations, at every angle, 355° too.
    assert np.allclose(tilted[1, :], 2.5 + 0.045)


def test_readings_round_one_station_can_be_drawn() -> None:
    plan = make_plan()
    one_round = [r for r in wall_of(plan, 60) if r.station_mm == 30]
    assert np.isfinite(surface(plan, 60, one_round, (6, 12))[0]).all()
    assert np.isnan(surface(plan, 60, [], (6, 12))[0]).all()

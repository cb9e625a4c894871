"""The drawing of a ring: where blades, bars, numbers and vectors stand."""

from __future__ import annotations

import math
import re

import pytest

from ringwright.sets.ring import (
    HUB,
    MIDDLE,
    NUMBERS,
    ROOM,
    TIP,
    Hub,
    Seat,
    draw_hub,
    draw_pairs,
    draw_ring,
    is_numbered,
)


def seats(moments: list[float]) -> list[Seat]:
    return [
        Seat(slot=n, serial=f"B-{n}", moment_g_mm=m) for n, m in enumerate(moments, start=1)
    ]


def points(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.e-]+) (-?[\d.e-]+)", path)]


def test_slot_1_stands_at_the_top_and_slots_rise_clockwise() -> None:
    drawn = draw_ring(seats([1.0, 2.0, 3.0, 4.0]), Hub())

    numbers = [blade.number for blade in drawn.blades]
    assert numbers == [(0.0, -NUMBERS), (NUMBERS, 0.0), (0.0, NUMBERS), (-NUMBERS, 0.0)]


def test_a_rotor_numbered_the_other_way_is_drawn_mirrored() -> None:
    drawn = draw_ring(seats([1.0, 2.0, 3.0, 4.0]), Hub(residual=1j), clockwise=False)

    assert drawn.blades[1].number == (-NUMBERS, 0.0)
    assert drawn.hub.tip == (-ROOM, 0.0)


def test_a_vector_points_to_the_slot_that_is_too_heavy() -> None:
    # One blade 100 g·mm heavier in slot 2 of 4 leaves 100 g·mm at 90 degrees: slot 2's ray.
    drawn = draw_ring(seats([0.0, 100.0, 0.0, 0.0]), Hub(residual=100j))

    assert drawn.hub.tip == (ROOM, 0.0)
    assert drawn.blades[1].number == (NUMBERS, 0.0)


def test_a_bar_goes_outward_for_a_heavier_blade_and_inward_for_a_lighter_one() -> None:
    drawn = draw_ring(seats([110.0, 100.0, 90.0, 100.0]), Hub())

    reach = [max(math.hypot(*p) for p in points(b.bar)) for b in drawn.blades if b.bar]
    assert reach[0] > MIDDLE + 30
    assert min(math.hypot(*p) for p in points(drawn.blades[2].bar)) < MIDDLE - 30
    assert [bool(blade.bar) for blade in drawn.blades] == [True, False, True, False]


@pytest.mark.parametrize("slots", [2, 3, 4, 19, 22, 60, 61, 68, 160, 161, 400])
def test_every_ring_stays_inside_its_frame_and_blades_apart(slots: int) -> None:
    drawn = draw_ring(seats([1000.0 + n % 7 for n in range(slots)]), Hub())

    assert len(drawn.blades) == slots
    assert drawn.thin == (slots > 60)
    for blade in drawn.blades:
        radii = [math.hypot(*point) for point in points(blade.outline)]
        assert min(radii) >= HUB - 1
        assert max(radii) <= TIP + 4
    numbers = [b.number for b in drawn.blades if b.number is not None]
    gaps = [math.dist(a, b) for n, a in enumerate(numbers) for b in numbers[:n]]
    assert min(gaps) >= 20


def test_numbers_of_a_crowded_ring_keep_away_from_slot_1() -> None:
    assert [s for s in range(1, 69) if is_numbered(s, 68)] == [1, *range(5, 66, 5)]
    assert not is_numbered(120, 120)
    assert is_numbered(36, 36)


def test_a_lock_and_a_mark_are_told_of_their_blades() -> None:
    given = seats([1.0, 2.0])
    given[0] = Seat(slot=1, serial="B-1", moment_g_mm=1.0, locked=True, mark="worst")

    drawn = draw_ring(given, Hub())

    assert (drawn.blades[0].locked, drawn.blades[0].mark) == (True, "worst")
    assert (drawn.blades[1].locked, drawn.blades[1].mark) == (False, "")


def test_share_uncertainty_and_residual_have_one_scale() -> None:
    drawn = draw_hub(Hub(residual=1000 + 0j, u95_g_mm=2000.0, share_g_mm=4000.0))

    assert (drawn.share_r, drawn.u95_r) == (ROOM, ROOM / 2)
    assert drawn.tip == (0.0, -ROOM / 4)
    assert not drawn.outside


def test_without_a_share_no_circle_stands_for_it() -> None:
    drawn = draw_hub(Hub(residual=3000j, u95_g_mm=1500.0))

    assert drawn.share_r is None
    assert drawn.outside
    assert draw_hub(Hub()).tip is None


def test_hubs_beside_one_another_are_drawn_at_one_scale() -> None:
    small = draw_hub(Hub(residual=10 + 0j), 1, 26.0, beside_g_mm=100.0)

    assert small.tip == (0.0, -2.6)


def test_pairs_are_opposite_and_the_largest_difference_leads() -> None:
    pairs = draw_pairs(seats([10.0, 50.0, 12.0, 20.0]))

    told = [(p.first.seat.slot, p.second.seat.slot, p.difference_g_mm) for p in pairs]
    assert told == [(2, 4, 30.0), (1, 3, 2.0)]
    assert [pair.width for pair in pairs] == [100.0, 6.67]
    assert pairs[0].first.less_mean_g_mm == 27.0


def test_an_odd_ring_tells_its_neighbours_instead() -> None:
    pairs = draw_pairs(seats([10.0, 50.0, 12.0]))

    told = [(p.first.seat.slot, p.second.seat.slot, p.difference_g_mm) for p in pairs]
    assert told == [(1, 2, 40.0), (2, 3, 38.0), (3, 1, 2.0)]


def test_an_empty_slot_has_no_difference_and_no_bar() -> None:
    given = [*seats([10.0, 20.0, 30.0]), Seat(slot=4, mark="empty")]

    pairs = draw_pairs(given)
    drawn = draw_ring(given, Hub())

    assert pairs[-1].difference_g_mm is None
    assert pairs[-1].second.seat.serial == ""
    assert drawn.blades[3].bar == ""

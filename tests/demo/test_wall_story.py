"""The walls of the demo's story: read within visits, and as thin as the story tells."""

from __future__ import annotations

from collections import defaultdict

import pytest

from ringwright.core.conformity import INSIDE
from ringwright.walls.harmonics import rounds
from ringwright.walls.mapping import map_wall
from ringwright.walls.packing import pack
from ringwright.walls.reading import WallReading
from ringwright.walls.trend import aligned, expected, learned
from seed_demo.told import Told
from seed_demo.walls import BORED, FINISHED, LEAST, READ, U_MM, readings_of, wall_plan
from tests.demo.story import parts_of, told

WEEKS = 10


@pytest.fixture(scope="module")
def walls() -> list[Told]:
    return [one for one in told(WEEKS) if one.kind == READ]


def test_a_wall_is_read_within_an_open_visit_at_its_step(walls: list[Told]) -> None:
    facts: dict[str, list[Told]] = defaultdict(list)
    for one in parts_of(told(WEEKS)):
        facts[one.subject].append(one)
    for wall in walls:
        before = [one for one in facts[wall.subject] if one.at_us <= wall.at_us]
        last = [one for one in before if one.kind in ("begin", "end")][-1]
        assert (last.kind, last.data["step"]) == ("begin", wall.data["step"]), wall
    assert len(walls) > 3 * WEEKS


def test_the_least_of_a_finished_wall_is_what_the_visit_read(walls: list[Told]) -> None:
    read = {
        (one.subject, one.data["value"])
        for one in parts_of(told(WEEKS))
        if one.kind == "measure" and one.data["characteristic"] == LEAST
    }
    finished = [one for one in walls if one.data["step"] == FINISHED]
    for one in finished:
        least = min(reading.wall_mm for reading in readings_of(one.subject, one.data))
        assert least == one.data["least"]
    # One typed wrong is told with its slip and corrected, so a few may differ.
    same = sum((one.subject, one.data["least"]) in read for one in finished)
    assert same >= len(finished) - 2
    assert len(finished) > WEEKS


def test_the_same_set_has_the_same_readings_and_covers_the_plan() -> None:
    data = {"step": BORED, "visit": 1, "thin": False, "least": 0.0}
    one = readings_of("C22-0007", data)
    assert pack(one) == pack(readings_of("C22-0007", dict(data)))
    assert pack(one) != pack(readings_of("C22-0008", data))
    found = map_wall(wall_plan(), BORED, one, U_MM)
    assert (found.off_plan, found.uncovered, found.state) == (0, (), INSIDE)


def test_the_case_bored_off_centre_is_inside_and_will_be_thin(walls: list[Told]) -> None:
    plan = wall_plan()
    cases: dict[str, dict[int, tuple[WallReading, ...]]] = defaultdict(dict)
    for one in walls:
        cases[one.subject][one.data["step"]] = readings_of(one.subject, one.data)
    past = learned(
        [
            aligned(plan, (BORED, sets[BORED]), (FINISHED, sets[FINISHED]))
            for sets in cases.values()
            if len(sets) == 2
        ]
    )

    def chance(serial: str, thin: bool) -> float:
        data = {"step": BORED, "visit": 1, "thin": thin, "least": 0.0}
        found = map_wall(plan, BORED, readings_of(serial, data), U_MM)
        assert found.state == INSIDE
        if thin:
            assert all(one.eccentric_mm > 0.25 for one in rounds(found.points))
        return expected(found, past)[0].chance_under

    assert chance("C22-0007", thin=False) < 0.05 < 0.2 < chance("C22-0007", thin=True)

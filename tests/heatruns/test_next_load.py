"""When furnaces are free and which waiting parts fill them, where the answer is plain."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ringwright.assembly import SYSTEM
from ringwright.core.instants import parse_instant
from ringwright.floor.service import Prioritise, ShutIt
from ringwright.furnaces.service import ReviseRecipe, SetFurnace
from ringwright.heat.recipe import RAMP, Recipe, Segment
from ringwright.heatruns.next_load import NextLoads, suggested
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import SetGroundRule
from ringwright.sites.site import Station
from tests.make.floor import CODE, MINUTE_US, QUALITY, SUPERVISOR
from tests.make.furnaces import CYCLE, FURNACE, HOT, ROUTE, Hall
from tests.make.heat_weeks import at, begin, end

HOUR_US = 60 * MINUTE_US


def coming(hall: Hall) -> NextLoads:
    with hall.floor.ledger.read(CODE) as read:
        return suggested(read)


def cleaned(hall: Hall, moment: str, *serials: str) -> None:
    """Blades whose cleaning ended at about this moment; each takes three minutes."""
    at(hall, moment)
    hall.waiting(*serials)


def loads(found: NextLoads) -> list[tuple[str, list[tuple[str, str]]]]:
    return [
        (one.run or one.furnace, [(place.part.serial, place.position) for place in one.places])
        for one in found.loads
    ]


def second_furnace(hall: Hall, code: str = "HF-2", group: str = "furnaces") -> None:
    station = Station(code=code, name="Hot 2", group=group, capacity=1)
    hall.floor.do(SetGroundRule(thing=station, key=f"st-{code}"), SYSTEM)
    furnace = replace(HOT, code=code, positions=("only",), proofs={})
    hall.floor.do(SetFurnace(furnace=furnace, key=f"f-{code}"), QUALITY)


def test_a_free_furnace_takes_those_whose_window_ends_first(hall: Hall) -> None:
    cleaned(hall, "2026-09-28T10:00:00+02:00", "S-1", "S-2", "S-3", "S-4")

    found = coming(hall)

    assert [(one.furnace, one.free_us) for one in found.free] == [(FURNACE, found.now_us)]
    # The next run can begin an hour later, which S-4's window of four hours outlasts.
    assert loads(found) == [
        (FURNACE, [("S-1", "left"), ("S-2", "middle"), ("S-3", "right")]),
        (FURNACE, [("S-4", "left")]),
    ]
    assert found.loads[1].begin_us - found.loads[0].begin_us == HOUR_US
    assert [one.empty for one in found.loads] == [0, 2]
    assert found.proved
    assert found.missed == found.over == ()


def test_what_goes_first_goes_into_the_first_load(hall: Hall) -> None:
    cleaned(hall, "2026-09-28T10:00:00+02:00", "S-1", "S-2", "S-3", "S-4")
    act = Prioritise(serial="S-4", rank=1, reason="for the test fan", key="p")
    hall.floor.do(act, SUPERVISOR)

    assert loads(coming(hall))[0][1] == [("S-4", "left"), ("S-1", "middle"), ("S-2", "right")]


def test_a_running_furnace_is_free_when_its_plan_ends(hall: Hall) -> None:
    """Begun at 10:00, an hour planned; asked at 10:20."""
    run = begin(hall, "2026-09-28T10:00:00+02:00", ["S-1"])
    cleaned(hall, "2026-09-28T10:10:00+02:00", "S-2")
    hall.floor.clock.at_us = parse_instant("2026-09-28T10:20:00+02:00")

    found = coming(hall)

    free = found.free[0]
    assert free.run is not None
    assert (free.run.code, free.plan_over) == (run, False)
    assert free.free_us == parse_instant("2026-09-28T11:00:00+02:00")
    assert found.loads[0].begin_us == free.free_us
    assert loads(found) == [(FURNACE, [("S-2", "left")])]


def test_a_run_past_its_plan_is_free_now_and_says_so(hall: Hall) -> None:
    begin(hall, "2026-09-28T10:00:00+02:00", ["S-1"])
    at(hall, "2026-09-28T12:00:00+02:00")

    free = coming(hall).free[0]

    assert free.plan_over
    assert free.free_us == coming(hall).now_us


def test_windows_that_no_furnace_can_make_are_told(hall: Hall) -> None:
    """Cleaned at 06:03: over at 10:03. The furnace runs from 09:55 to 10:55."""
    cleaned(hall, "2026-09-28T07:00:00+02:00", "S-1")
    begin(hall, "2026-09-28T10:20:00+02:00", ["S-9"])
    hall.floor.clock.at_us = parse_instant("2026-09-28T10:30:00+02:00")

    found = coming(hall)

    # S-1's window ends at 11:02; the run is planned to 11:20.
    assert [one.serial for one in found.doomed] == ["S-1"]
    assert [one.serial for one in found.missed] == ["S-1"]
    assert loads(found) == []

    hall.floor.clock.at_us = parse_instant("2026-09-28T11:02:00+02:00") + MINUTE_US
    again = coming(hall)
    assert [one.serial for one in again.over] == ["S-1"]
    assert again.missed == ()


def test_a_part_with_no_place_left_in_time_is_told_too(hall: Hall) -> None:
    """Seven blades clean until 13:03 to 13:21, places for three now and three an hour later;
    a third run begins at 14:00 at the earliest."""
    serials = [f"S-{n}" for n in range(1, 8)]
    cleaned(hall, "2026-09-28T09:00:00+02:00", *serials)
    hall.floor.clock.at_us = parse_instant("2026-09-28T12:00:00+02:00")

    found = coming(hall)

    assert sum(len(one.places) for one in found.loads) == 6
    assert found.proved
    assert found.doomed == ()
    assert len(found.crowded) == 1


def test_a_load_that_is_being_made_up_is_filled(hall: Hall) -> None:
    cleaned(hall, "2026-09-28T10:00:00+02:00", "S-1", "S-2", "S-3")
    run = hall.open()
    hall.load(run, "S-2", "middle")

    found = coming(hall)

    assert loads(found) == [(run, [("S-1", "left"), ("S-3", "right")])]
    assert found.loads[0].empty == 0
    assert found.loads[0].begin_us == found.now_us


def test_a_full_load_that_waits_to_be_started_is_no_suggestion(hall: Hall) -> None:
    cleaned(hall, "2026-09-28T10:00:00+02:00", "S-1", "S-2", "S-3", "S-4")
    run = hall.open()
    for serial in ("S-1", "S-2", "S-3"):
        hall.load(run, serial)

    found = coming(hall)

    assert loads(found) == [(FURNACE, [("S-4", "left")])]
    assert found.loads[0].begin_us == found.now_us + HOUR_US


def test_taking_parts_out_again_is_never_suggested(hall: Hall) -> None:
    """One blade lies in a run of the slow recipe; three others can make their window by the
    quick one alone, if they begin now. Both would be more windows than one."""
    quick = Recipe(
        code="QUICK",
        segments=(
            Segment(name="q", kind=RAMP, target_c=900.0, tolerance_c=8.0, min_minutes=5),
        ),
        uses=CYCLE.uses,
    )
    cleaned(hall, "2026-09-28T10:00:00+02:00", "S-1", "S-2", "S-3", "S-4")
    run = hall.open()
    hall.load(run, "S-4", "left")
    hall.floor.do(ReviseRecipe(recipe=quick, key="q"), QUALITY)
    hall.floor.clock.at_us = parse_instant("2026-09-28T14:00:00+02:00")

    found = coming(hall)

    assert loads(found)[0] == (run, [("S-1", "middle"), ("S-2", "right")])
    assert [one.serial for one in found.missed] == ["S-3"]


def test_held_and_stopped_parts_are_kept_out(hall: Hall) -> None:
    cleaned(hall, "2026-09-28T10:00:00+02:00", "S-1", "S-2")
    hall.floor.book("hold", "S-1", reason="look at the seam")

    found = coming(hall)

    assert loads(found) == [(FURNACE, [("S-2", "left")])]
    assert [one.serial for one in found.kept_out] == ["S-1"]


def test_a_furnace_that_may_not_be_loaded_is_blocked_and_says_why(bare: Hall) -> None:
    cleaned(bare, "2026-09-28T10:00:00+02:00", "S-1")

    found = coming(bare)

    assert found.free[0].free_us is None
    assert "no temperature uniformity survey" in found.free[0].against[0]
    assert found.loads == ()
    assert [one.serial for one in found.kept_out] == ["S-1"]


@pytest.mark.parametrize("subject", [("station", FURNACE), ("recipe", "SLOW")])
def test_nothing_is_suggested_for_what_is_shut(hall: Hall, subject: tuple[str, str]) -> None:
    cleaned(hall, "2026-09-28T10:00:00+02:00", "S-1")
    kind, code = subject
    shut = ShutIt(kind=kind, code=code, reason="door leaks", opener="supervisor", key="s")
    hall.floor.do(shut, SUPERVISOR)

    assert coming(hall).loads == ()


def test_a_less_uniform_furnace_and_one_of_another_group_take_nothing(hall: Hall) -> None:
    second_furnace(hall)
    cleaned(hall, "2026-09-28T10:00:00+02:00", "S-1", "S-2", "S-3", "S-4")
    assert sorted(one.furnace for one in coming(hall).loads) == [FURNACE, "HF-2"]

    weak = replace(HOT, code="HF-2", positions=("only",), proofs={}, furnace_class=6)
    hall.floor.do(SetFurnace(furnace=weak, key="weak"), QUALITY)
    assert {one.furnace for one in coming(hall).loads} == {FURNACE}


def test_the_furnace_is_of_the_step_s_group(hall: Hall) -> None:
    grouped = ROUTE.replace('code = "SAIL"', 'code = "SAIL"\nrevision = "2"').replace(
        'kind = "heat-cycle"', 'kind = "heat-cycle"\nstation_group = "vacuum"'
    )
    hall.floor.do(LoadRoute(card=parse_route(grouped)), SYSTEM)
    second_furnace(hall, group="vacuum")
    cleaned(hall, "2026-09-28T10:00:00+02:00", "S-1")

    assert loads(coming(hall)) == [("HF-2", [("S-1", "only")])]


def test_what_lies_in_a_run_to_be_decided_waits_for_nothing(hall: Hall) -> None:
    run = begin(hall, "2026-09-28T10:00:00+02:00", ["S-1"])
    end(hall, run, 130, held_at_c=880.0)

    found = coming(hall)

    assert found.free[0].free_us == found.now_us
    assert found.loads == ()
    assert found.kept_out == ()

"""Machining plans, spindle logs and boards in the record, on both stores."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from ringwright.core.errors import BadRows, Clash, Forbidden, Missing, Refused
from ringwright.machines.card import Placed
from ringwright.machines.queries import read_board, read_fixtures, read_logs, read_machining
from ringwright.machines.rules import CUTTING, SET_UP, STOPPED, hours_in, spans_of
from ringwright.machines.service import KeepPlan, LoadMachining
from ringwright.machines.toml import parse_machining
from tests.make.floor import CODE, MAKER, SUPERVISOR
from tests.make.machining import MACHINE, NEEDS, Works, open_works

HOUR_US = 3_600_000_000


@pytest.fixture
def works(store_url: str) -> Iterator[Works]:
    found = open_works(store_url)
    yield found
    found.floor.ledger.store.close()


def test_a_file_says_what_machining_needs_and_how_many_fixtures_there_are(works: Works) -> None:
    with works.floor.ledger.read(CODE) as read:
        plan = read_machining(read.connection, read.site.id)["HOOP"]
        fixtures = read_fixtures(read.connection, read.site.id)

    assert plan.by_step[10].machines == ("CV-1", "CV-2")
    assert (plan.by_step[30].set_up_h, plan.by_step[30].spindle_h) == (1.0, 5.0)
    assert fixtures["chuck"].count == 2
    again = works.floor.do(LoadMachining(file=parse_machining(NEEDS)), SUPERVISOR)
    assert again["changed"] is False


def test_what_is_wrong_with_a_file_is_told_line_by_line() -> None:
    text = NEEDS.replace("spindle_hours = 8.0", "spindle_hours = 0").replace(
        'machines = ["CM-1"]', "machines = []"
    )

    with pytest.raises(BadRows) as found:
        parse_machining(text)

    assert [line for line, _ in found.value.problems] == [3, 9]
    assert "spindle_hours" in found.value.message
    assert "name the machines" in found.value.message


def test_a_plan_speaks_of_machining_steps_and_stations_there_are(works: Works) -> None:
    text = NEEDS.replace("step = 30", "step = 20").replace('"CV-2"', '"CV-9"')

    with pytest.raises(Refused) as found:
        works.floor.do(LoadMachining(file=parse_machining(text)), SUPERVISOR)

    assert "step 20 of HOOP is no machining step" in found.value.message
    assert "there is no station CV-9" in found.value.message


def test_a_log_divides_the_stay_into_set_up_cutting_and_stops(works: Works) -> None:
    works.on("H-1")
    works.log("set-up")
    works.later(2)
    works.log("cut")
    works.later(3)
    told = works.log("stop", reason="tool broken")
    works.later(1)
    works.log("resume")
    works.later(4)
    works.log("off")

    now = works.floor.clock.at_us
    with works.floor.ledger.read(CODE) as read:
        log = read_logs(read.connection, read.site.id, [MACHINE], (0, now + 1))[MACHINE]
    spans = spans_of(log, now)
    minutes = [round(hours_in(spans, state) * 60) for state in (SET_UP, CUTTING, STOPPED)]
    assert minutes == [121, 422, 61]
    assert told["serial"] == "H-1"
    assert [one.reason for one in spans] == ["", "", "tool broken", ""]


def test_a_log_refuses_what_cannot_follow(works: Works) -> None:
    with pytest.raises(Refused, match="no stop to go on from"):
        works.log("resume")
    with pytest.raises(Refused, match="say why it stands"):
        works.log("stop", reason="no idea")
    with pytest.raises(Refused, match="in words"):
        works.log("stop", reason="other")
    with pytest.raises(Missing):
        works.log("cut", station="NOWHERE")
    works.log("stop", reason="machine down")
    with pytest.raises(Refused, match="for that reason already"):
        works.log("stop", reason="machine down")


def test_of_two_planners_the_second_sees_what_the_first_changed(works: Works) -> None:
    works.on("H-1")
    start_us = works.floor.clock.at_us + HOUR_US
    one = Placed(serial="H-1", step=30, machine="CM-1", start_us=start_us)
    first = works.keep(one)

    with pytest.raises(Clash, match="has changed the board"):
        works.keep(one, seen=0)
    works.change(replace(one, locked=True), seen=first["entry"])

    with works.floor.ledger.read(CODE) as read:
        kept = read_board(read.connection, read.site.id)
        before = read_board(read.connection, read.site.id, works.floor.clock.at_us)
    assert [(x.step, x.locked) for x in kept.placements] == [(30, True)]
    assert [(x.step, x.locked) for x in before.placements] == [(30, False)]
    assert before.number == first["entry"]


def test_a_board_takes_only_what_can_be(works: Works) -> None:
    works.on("H-1")
    start_us = works.floor.clock.at_us + HOUR_US
    one = Placed(serial="H-1", step=30, machine="CM-1", start_us=start_us)

    with pytest.raises(Refused, match="may not do step 30"):
        works.keep(replace(one, machine=MACHINE))
    with pytest.raises(Missing, match="no part H-9"):
        works.keep(replace(one, serial="H-9"))
    with pytest.raises(Refused, match="has no step 20"):
        works.keep(replace(one, step=20))
    with pytest.raises(Refused, match="why it is changed"):
        works.change(one, seen=0, reason=" ")
    with pytest.raises(Forbidden):
        works.floor.do(KeepPlan(placements=(one,), seen=0, key="k"), MAKER)

"""Visits on the floor: pauses, hands, skips, the most visits, and one's own work."""

from __future__ import annotations

import pytest

from ringwright.bench.acts import HandOver
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.parts.tables import Visit
from ringwright.replaying import compare
from tests.make.floor import (
    INSPECTOR,
    MAKER,
    MAKER_2,
    MINUTE_US,
    QUALITY,
    SUPERVISOR,
    Floor,
    actor,
)


def test_pauses_are_no_touch_time(floor: Floor, store_url: str) -> None:
    floor.book("create", "A")
    floor.book("begin", "A", MAKER, step=10)
    for _ in range(2):
        floor.book("pause", "A", MAKER)
        floor.clock.at_us += 30 * MINUTE_US
        floor.book("resume", "A", MAKER)
    floor.book("end", "A", MAKER, step=10, outcome="pass")

    assert floor.rows([Visit.pause_us, Visit.touch_us], Visit.step == 10) == [
        (62 * MINUTE_US, 3 * MINUTE_US)
    ]
    assert compare(store_url)[1] is None


def test_a_pause_that_is_never_resumed_ends_with_the_visit(floor: Floor) -> None:
    floor.book("create", "A")
    floor.book("begin", "A", MAKER, step=10)
    floor.book("pause", "A", MAKER)
    floor.book("end", "A", MAKER, step=10, outcome="pass")

    assert floor.rows([Visit.pause_us, Visit.touch_us], Visit.step == 10) == [
        (MINUTE_US, MINUTE_US)
    ]


def test_a_visit_is_paused_once_and_resumed_once(floor: Floor) -> None:
    floor.book("create", "A")
    with pytest.raises(Refused, match="no open visit to pause"):
        floor.book("pause", "A", MAKER)
    floor.book("begin", "A", MAKER, step=10)
    with pytest.raises(Refused, match="is not paused"):
        floor.book("resume", "A", MAKER)
    floor.book("pause", "A", MAKER)
    with pytest.raises(Refused, match="paused already"):
        floor.book("pause", "A", MAKER)


def test_a_visit_handed_over_goes_on_unbroken_in_other_hands(
    floor: Floor, store_url: str
) -> None:
    floor.book("create", "A")
    floor.book("begin", "A", MAKER, step=10)
    floor.do(HandOver(serial="A", key="over", to="maker-2"), MAKER)
    floor.book("end", "A", MAKER_2, step=10, outcome="pass")

    assert floor.rows([Visit.actor, Visit.touch_us], Visit.step == 10) == [
        ("maker-2", 2 * MINUTE_US)
    ]
    with pytest.raises(Refused, match="no open visit"):
        floor.do(HandOver(serial="A", key="again", to="maker-1"), MAKER)
    assert compare(store_url)[1] is None


def test_a_visit_is_not_handed_to_somebody_unknown(floor: Floor) -> None:
    floor.book("create", "A")
    floor.book("begin", "A", MAKER, step=10)
    before = floor.events()

    with pytest.raises((Missing, Refused), match="nobody-9"):
        floor.do(HandOver(serial="A", key="over", to="nobody-9"), MAKER)

    assert floor.events() == before


def test_nobody_passes_their_own_work_at_the_next_inspection(floor: Floor) -> None:
    worker = actor("insp-1", "inspector")
    floor.book("create", "A")
    floor.visit("A", 10)
    floor.visit("A", 20, who=worker)
    floor.book("begin", "A", INSPECTOR, step=30)

    with pytest.raises(Forbidden, match="insp-1 worked on A"):
        floor.book("end", "A", INSPECTOR, step=30, outcome="pass")
    other = actor("insp-2", "inspector")
    told = floor.book("end", "A", other, step=30, outcome="pass")
    assert told["part"]["step"] == 40


def test_one_of_two_pairs_of_hands_is_enough_to_have_worked_on_it(floor: Floor) -> None:
    floor.book("create", "A")
    floor.visit("A", 10)
    floor.book("begin", "A", actor("insp-1", "inspector"), step=20)
    floor.do(HandOver(serial="A", key="over", to="insp-2"), actor("insp-1", "inspector"))
    floor.book("end", "A", actor("insp-2", "inspector"), step=20, outcome="pass")
    floor.book("begin", "A", INSPECTOR, step=30)

    for name in ("insp-1", "insp-2"):
        with pytest.raises(Forbidden, match=f"{name} worked on A"):
            floor.book("end", "A", actor(name, "inspector"), step=30, outcome="pass")


def test_who_is_authorised_for_self_inspection_passes_their_own_work(floor: Floor) -> None:
    trusted = actor("insp-1", "inspector", self_inspection=True)
    floor.book("create", "A")
    floor.visit("A", 10, who=trusted)
    floor.visit("A", 20, who=trusted)

    assert floor.visit("A", 30, who=trusted)["part"]["step"] == 40


def test_a_skip_needs_a_reason_and_a_role_and_is_counted(floor: Floor, store_url: str) -> None:
    floor.book("create", "A")

    with pytest.raises(Forbidden, match="skips 10; a supervisor may"):
        floor.book("begin", "A", MAKER, step=20, reason="done outside")
    with pytest.raises(Refused, match="skips 10; say why"):
        floor.book("begin", "A", SUPERVISOR, step=20)
    floor.book("begin", "A", SUPERVISOR, step=20, reason="done outside")

    assert floor.rows([Visit.skipped], Visit.step == 20) == [(1,)]
    assert compare(store_url)[1] is None


def test_a_step_behind_the_one_awaited_needs_a_rework_or_repair(floor: Floor) -> None:
    floor.book("create", "A")
    floor.visit("A", 10)
    floor.visit("A", 20)

    with pytest.raises(Refused, match="lies behind the step awaited"):
        floor.book("begin", "A", SUPERVISOR, step=10, reason="again")
    floor.visit("A", 30, "rework", INSPECTOR)
    assert floor.book("begin", "A", MAKER, step=10)["part"]["step"] == 10


def test_a_step_is_visited_no_more_often_than_its_route_allows(floor: Floor) -> None:
    floor.book("create", "A")
    floor.visit("A", 10)
    floor.visit("A", 20, "rework", SUPERVISOR)
    floor.visit("A", 20, "rework", SUPERVISOR)
    before = floor.events()

    with pytest.raises(Refused, match="been at step 20 2 times, the most allowed"):
        floor.book("begin", "A", MAKER, step=20)
    with pytest.raises(Refused, match="the most allowed"):
        floor.book("begin", "A", QUALITY, step=20, reason="once more")

    assert floor.events() == before


def test_a_plain_rework_waits_for_the_step_it_was_ended_at(floor: Floor) -> None:
    floor.book("create", "A")
    floor.visit("A", 10)

    assert floor.visit("A", 20, "rework", SUPERVISOR)["part"]["step"] == 20


def test_the_same_step_of_two_visits_is_first_once(floor: Floor) -> None:
    floor.book("create", "A")
    floor.visit("A", 10, "rework", SUPERVISOR)
    floor.visit("A", 10)

    assert floor.rows([Visit.number, Visit.first], Visit.step == 10) == [(1, True), (2, False)]


def test_a_held_part_does_not_move_and_a_hold_stops_no_clock(
    floor: Floor, store_url: str
) -> None:
    floor.book("create", "A")
    floor.book("begin", "A", MAKER, step=10)
    floor.book("hold", "A", INSPECTOR, reason="look")
    with pytest.raises(Refused, match="on hold already: look"):
        floor.book("hold", "A", INSPECTOR, reason="again")
    floor.book("end", "A", MAKER, step=10, outcome="pass")
    with pytest.raises(Refused, match="on hold: look"):
        floor.book("begin", "A", MAKER, step=20)
    with pytest.raises(Forbidden):
        floor.book("unhold", "A", MAKER)
    floor.book("unhold", "A", SUPERVISOR)
    with pytest.raises(Refused, match="not on hold"):
        floor.book("unhold", "A", SUPERVISOR)

    assert floor.rows([Visit.touch_us], Visit.step == 10) == [(3 * MINUTE_US,)]
    assert floor.book("begin", "A", MAKER, step=20)["part"]["step"] == 20
    assert compare(store_url)[1] is None


def test_a_part_is_sent_after_its_release_and_then_rests(floor: Floor) -> None:
    floor.bring_to("A", 40)
    with pytest.raises(Refused, match="not released"):
        floor.book("send", "A", SUPERVISOR)
    floor.book("end", "A", MAKER, step=40, outcome="pass")

    assert floor.book("send", "A", SUPERVISOR, step=40)["part"]["place"] == "sent"
    with pytest.raises(Refused, match="has been sent"):
        floor.book("hold", "A", SUPERVISOR, reason="late")


@pytest.mark.parametrize(
    ("who", "outcome"),
    [("maker", "scrap"), ("supervisor", "scrap"), ("quality-engineer", "repair"),
     ("supervisor", "concession"), ("maker", "rework"), ("planner", "pass")],
)  # fmt: skip
def test_an_outcome_is_given_only_by_who_may_give_it(
    floor: Floor, who: str, outcome: str
) -> None:
    floor.book("create", "A")
    floor.book("begin", "A", MAKER, step=10)

    with pytest.raises(Forbidden):
        floor.book("end", "A", actor("x", who), step=10, outcome=outcome, defect="dent")


def test_one_serial_is_one_part(floor: Floor) -> None:
    floor.book("create", "A")

    with pytest.raises(Refused, match="exists already"):
        floor.book("create", "A")
    with pytest.raises(Refused, match="no product 'NONE'"):
        floor.book("create", "B", product="NONE")
    with pytest.raises(Refused, match="no part C"):
        floor.book("begin", "C", MAKER, step=10)


def test_a_reading_is_of_a_known_characteristic_in_its_unit_within_the_visit(
    floor: Floor,
) -> None:
    floor.bring_to("A", 30)
    reading = {"step": 30, "characteristic": "chord", "value": 11.0, "unit": "mm"}

    floor.book("measure", "A", INSPECTOR, **reading)
    for change, told in (
        ({"unit": "um"}, "read in mm"),
        ({"characteristic": "twist"}, "no characteristic twist"),
        ({"step": 20}, "in work at step 30"),
    ):
        with pytest.raises(Refused, match=told):
            floor.book("measure", "A", INSPECTOR, **{**reading, **change})
    floor.book("end", "A", INSPECTOR, step=30, outcome="pass")
    with pytest.raises(Refused, match="no open visit"):
        floor.book("measure", "A", INSPECTOR, **reading)

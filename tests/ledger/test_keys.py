"""A key makes a thing happen once: it is asked before any rule."""

from __future__ import annotations

import json

import pytest

from ringwright.assembly import SYSTEM
from ringwright.bench.acts import Move, Stop
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.errors import Clash, Forbidden, Refused
from ringwright.ledger.tables import BookingKey, Event, Refusal
from tests.make.floor import MAKER, SUPERVISOR, Floor

HEADER = (
    "at,serial,product,act,step,outcome,defect,characteristic,value,unit,lot,station,by,reason,"
    "key\n"
)


def test_a_key_answers_the_same_though_the_part_has_moved_on(floor: Floor) -> None:
    first = floor.book("create", "A", key="once")
    floor.visit("A", 10)
    floor.visit("A", 20)
    before = floor.events()

    again = floor.book("create", "A", key="once")

    assert again == first
    assert again["part"]["place"] == "waiting"
    assert again["part"]["step"] == 10
    assert floor.events() == before
    assert floor.part("A").step == 30


def test_a_key_answers_the_same_though_the_rules_would_refuse_it_now(floor: Floor) -> None:
    floor.book("create", "A")
    first = floor.book("begin", "A", MAKER, step=10, key="begin")
    floor.book("end", "A", MAKER, step=10, outcome="pass")
    floor.book("hold", "A", reason="look at it")

    assert floor.book("begin", "A", MAKER, step=10, key="begin") == first


def test_a_key_with_another_body_is_refused_and_nothing_is_stored(floor: Floor) -> None:
    floor.book("create", "A", key="once")
    before = floor.events()

    with pytest.raises(Clash, match="was used for another booking") as caught:
        floor.book("create", "B", key="once")

    assert caught.value.status == 409
    assert floor.events() == before
    assert floor.rows([Event.key], Event.key == "once") == [("once",)]


def test_one_key_serves_one_operation_only(floor: Floor) -> None:
    floor.book("create", "A", key="once")

    with pytest.raises(Clash, match="was used for another booking"):
        floor.do(Move(serial="A", key="once", to="rack-1"))


def test_a_key_of_a_refused_booking_is_free_again(floor: Floor) -> None:
    with pytest.raises(Refused):
        floor.book("begin", "A", step=10, key="first")
    floor.book("create", "A")

    assert floor.book("begin", "A", step=10, key="first")["part"]["place"] == "in work"


def test_a_refused_booking_is_in_the_audit_and_not_in_the_ledger(floor: Floor) -> None:
    before = floor.events()

    with pytest.raises(Refused):
        floor.book("begin", "NONE", MAKER, step=10)
    with pytest.raises(Forbidden):
        floor.book("send", "NONE", MAKER)

    assert floor.events() == before
    noted = floor.rows([Refusal.id, Refusal.actor, Refusal.subject, Refusal.code])
    assert [row[1:] for row in noted] == [
        ("maker-1", "NONE", "refused"),
        ("maker-1", "NONE", "forbidden"),
    ]


def test_a_forbidden_act_is_refused_before_its_key_is_looked_up(floor: Floor) -> None:
    floor.book("create", "A")
    floor.book("hold", "A", SUPERVISOR, reason="look", key="hold")

    with pytest.raises(Forbidden):
        floor.book("hold", "A", MAKER, reason="look", key="hold")


def test_a_stored_answer_is_what_was_told(floor: Floor) -> None:
    told = floor.book("create", "A", key="once")

    ((stored,),) = floor.rows([BookingKey.answer], BookingKey.key == "once")
    assert json.loads(stored) == told


def test_keys_of_files_and_of_bookings_are_one_namespace(floor: Floor) -> None:
    row = "2026-09-01T08:00+02:00,F,OAR,create,,,,,,,,,,,from-file\n"
    floor.do(LoadHistory(rows=read_csv(HEADER + row)), SYSTEM)
    before = floor.events()

    with pytest.raises(Clash):
        floor.book("create", "G", key="from-file")
    at_us = floor.rows([Event.at_us], Event.key == "from-file")[0][0]
    told = floor.book("create", "F", key="from-file", at_us=at_us)

    assert told["event"]["serial"] == "F"
    assert floor.events() == before


@pytest.mark.parametrize("key", ["a\x00b", "a\nb", "a\x7fb"])
def test_a_key_with_a_control_character_is_refused(floor: Floor, key: str) -> None:
    with pytest.raises(Refused, match=r"control character|NUL"):
        floor.book("create", "A", key=key)
    with pytest.raises(Refused, match=r"control character|NUL"):
        floor.do(Stop(serial="A", key=key, defect="dent"))


def test_numbers_have_no_gaps_after_refusals(floor: Floor) -> None:
    for number in range(5):
        floor.book("create", f"A{number}")
        with pytest.raises(Refused):
            floor.book("create", f"A{number}")

    numbers = [row[0] for row in floor.rows([Event.site_seq])]

    assert numbers == list(range(1, len(numbers) + 1))

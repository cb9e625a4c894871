"""Corrections, back-dated facts and questions about a past moment."""

from __future__ import annotations

import pytest

from ringwright.bench.acts import Move
from ringwright.bench.correcting import Correct
from ringwright.core.errors import Clash, Forbidden, Missing, Refused
from ringwright.flow.service import read_week_numbers
from ringwright.ledger.tables import Event
from ringwright.parts.tables import Visit
from ringwright.replaying import compare
from tests.make.floor import CODE, INSPECTOR, MAKER, MINUTE_US, QUALITY, Floor
from tests.make.second import signed

WEEK = "2026-W40"


def output(floor: Floor, as_of_us: int | None = None) -> int:
    with floor.ledger.read(CODE, as_of_us) as read:
        return read_week_numbers(read, "OAR", WEEK).output


def release(floor: Floor, serial: str) -> int:
    """Bring a part to its release; answer the number of the entry that released it."""
    floor.bring_to(serial, 40)
    told = floor.book("end", serial, MAKER, step=40, outcome="pass")
    assert told["part"]["place"] == "released"
    return int(told["event"]["site_seq"])


def correct(floor: Floor, serial: str, entry: int, **given: object) -> None:
    floor.do(
        Correct(serial=serial, key=floor.key(), entry=entry, **given),  # type: ignore[arg-type]
        signed(QUALITY, "sup-1", "supervisor"),
    )


def test_a_correction_is_a_later_event_and_the_wrong_one_stays(floor: Floor) -> None:
    wrong = release(floor, "A")
    before = floor.rows([Event.site_seq, Event.payload, Event.hash])

    correct(floor, "A", wrong, void=True, reason="wrong part scanned")

    after = floor.rows([Event.site_seq, Event.payload, Event.hash])
    assert after[:-1] == before
    ((corrects, kind),) = floor.rows([Event.corrects, Event.kind], Event.site_seq > wrong)
    assert (corrects, kind) == (wrong, "correct")
    assert floor.part("A").place == "in work"


def test_a_number_asked_as_of_before_a_correction_is_the_one_shown_then(
    floor: Floor, store_url: str
) -> None:
    wrong = release(floor, "A")
    floor.clock.at_us += MINUTE_US
    shown_us = floor.clock.at_us
    assert output(floor) == 1

    correct(floor, "A", wrong, void=True, reason="wrong part scanned")

    floor.clock.at_us += MINUTE_US
    assert output(floor) == 0
    assert output(floor, shown_us) == 1
    assert floor.part("A", shown_us).place == "released"
    assert compare(store_url)[1] is None


def test_as_of_counts_what_was_known_before_the_moment_not_at_it(floor: Floor) -> None:
    floor.book("create", "A")
    created_us = floor.clock.at_us

    with pytest.raises(Missing):
        floor.part("A", created_us)
    assert floor.part("A", created_us + 1).place == "waiting"


def test_a_back_dated_fact_refolds_its_part_and_changes_no_past_answer(
    floor: Floor, store_url: str
) -> None:
    floor.book("create", "A")
    created_us = floor.clock.at_us
    floor.clock.at_us += 60 * MINUTE_US
    floor.book("begin", "A", step=10)
    begun_us = floor.clock.at_us
    floor.clock.at_us += 60 * MINUTE_US
    asked_us = floor.clock.at_us
    floor.book("pause", "A", at_us=begun_us + 10 * MINUTE_US)
    floor.book("resume", "A", at_us=begun_us + 30 * MINUTE_US)
    floor.book("end", "A", step=10, outcome="pass", at_us=begun_us + 40 * MINUTE_US)

    ((touch_us, queue_us),) = floor.rows(
        [Visit.touch_us, Visit.queue_us], Visit.step == 10, Visit.known_to_us >= 2**62
    )

    assert touch_us == 20 * MINUTE_US
    assert queue_us == begun_us - created_us
    assert floor.part("A", asked_us).place == "in work"
    assert floor.part("A").place == "waiting"
    assert compare(store_url)[1] is None


def test_a_back_dated_fact_that_breaks_what_followed_is_refused(floor: Floor) -> None:
    floor.book("create", "A")
    floor.clock.at_us += 60 * MINUTE_US
    created_us = floor.clock.at_us
    floor.visit("A", 10)
    before = floor.events()

    with pytest.raises(Refused):
        floor.book("begin", "A", step=10, at_us=created_us + MINUTE_US // 2)

    assert floor.events() == before


def test_a_correction_that_breaks_what_followed_is_refused(floor: Floor) -> None:
    floor.book("create", "A")
    begun = floor.book("begin", "A", step=10)["event"]["site_seq"]
    floor.book("end", "A", step=10, outcome="pass")

    with pytest.raises(Refused):
        correct(floor, "A", begun, void=True, reason="never begun")


def test_a_corrected_time_changes_touch_and_keeps_both_versions(
    floor: Floor, store_url: str
) -> None:
    floor.book("create", "A")
    floor.book("begin", "A", step=10)
    begun_us = floor.clock.at_us
    told = floor.book("end", "A", step=10, outcome="pass")
    ended_us = begun_us + MINUTE_US // 2

    correct(
        floor, "A", told["event"]["site_seq"], changes={"at_us": ended_us}, reason="clock wrong"
    )

    rows = floor.rows([Visit.version, Visit.touch_us], Visit.step == 10)
    assert rows == [(0, MINUTE_US), (1, MINUTE_US // 2)]
    assert compare(store_url)[1] is None


def test_a_correction_needs_a_reason_a_target_and_a_role(floor: Floor) -> None:
    created = floor.book("create", "A")["event"]["site_seq"]
    floor.clock.at_us += MINUTE_US
    other = floor.book("create", "B")["event"]["site_seq"]
    floor.clock.at_us += MINUTE_US

    with pytest.raises(Refused, match="reason"):
        correct(floor, "A", created, void=True)
    with pytest.raises(Missing, match="no entry of A"):
        correct(floor, "A", other, void=True, reason="x")
    with pytest.raises(Refused, match="either voids"):
        correct(floor, "A", created, reason="x")
    with pytest.raises(Refused, match="cannot be corrected"):
        correct(floor, "A", created, changes={"serial": "C"}, reason="x")
    with pytest.raises(Forbidden):
        floor.do(Correct(serial="A", key="k", entry=created, void=True, reason="x"), MAKER)


def test_ones_own_last_booking_can_be_taken_back_within_ten_seconds(floor: Floor) -> None:
    floor.book("create", "A")
    entry = floor.book("begin", "A", MAKER, step=10)["event"]["site_seq"]
    floor.clock.at_us += 9_000_000 - MINUTE_US

    floor.do(Correct(serial="A", key="undo", entry=entry, void=True), MAKER)

    assert floor.part("A").place == "waiting"
    assert floor.part("A").step == 10


def test_ones_own_booking_cannot_be_taken_back_later_nor_by_another(floor: Floor) -> None:
    floor.book("create", "A")
    entry = floor.book("begin", "A", MAKER, step=10)["event"]["site_seq"]
    undo = Correct(serial="A", key="undo", entry=entry, void=True)

    floor.clock.at_us += 9_000_000 - MINUTE_US
    with pytest.raises(Forbidden):
        floor.do(undo, INSPECTOR)
    floor.clock.at_us += MINUTE_US
    with pytest.raises(Forbidden, match="time to take it back is over"):
        floor.do(undo, MAKER)


def test_a_screen_drawn_before_somebody_else_acted_is_told_so(floor: Floor) -> None:
    floor.book("create", "A")
    seen = floor.part("A").last_seq
    floor.do(Move(serial="A", key="one", to="rack-1", seen=seen), MAKER)

    with pytest.raises(Clash, match=r"somebody acted on A first: entry .* by maker-1"):
        floor.do(Move(serial="A", key="two", to="rack-2", seen=seen), INSPECTOR)

    assert floor.part("A").whereabouts == "rack-1"


def test_a_booking_without_a_time_stands_last_though_the_clock_went_back(
    floor: Floor, store_url: str
) -> None:
    floor.book("create", "A")
    floor.book("begin", "A", step=10)
    floor.clock.at_us -= 60 * MINUTE_US

    told = floor.book("end", "A", step=10, outcome="pass")

    assert told["part"]["place"] == "waiting"
    assert told["part"]["step"] == 20
    assert compare(store_url)[1] is None


def test_a_time_over_five_minutes_ahead_of_the_server_is_refused(floor: Floor) -> None:
    ahead_us = floor.clock.at_us + MINUTE_US

    floor.book("create", "A", at_us=ahead_us + 5 * MINUTE_US)
    with pytest.raises(Refused, match="five minutes ahead"):
        floor.book("create", "B", at_us=floor.clock.at_us + 6 * MINUTE_US + 1)

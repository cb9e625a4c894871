"""A sheet of paper: numbered once, entered by two people, booked when they agree."""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.core.errors import Clash, Forbidden, Missing, Refused
from ringwright.paper.service import BookSheet, EnterSheet, GiveUpSheet, MakePack, Sheet
from ringwright.parts.queries import read_events
from ringwright.replaying import compare
from tests.make.floor import CODE, DELEGATE, INSPECTOR, MINUTE_US, SUPERVISOR, Floor, actor

SECOND = actor("insp-2", "inspector")
FIRST = "P-0001-001"


def pack(floor: Floor) -> str:
    """O-1 waits for its measuring; one pack is made; an outage of an hour follows."""
    floor.bring_to("O-1", 30)
    made = floor.do(MakePack(key=floor.key()), SUPERVISOR)
    floor.clock.at_us += 60 * MINUTE_US
    return str(made["pack"])


def sheet(floor: Floor, **given: Any) -> Sheet:
    """What stands on the sheet of O-1: read and passed half an hour ago."""
    now = floor.clock.at_us
    fields: dict[str, Any] = {
        "by": "insp-1", "began_us": now - 40 * MINUTE_US, "ended_us": now - 30 * MINUTE_US,
        "outcome": "pass", "readings": {"chord": 11.2},
    }  # fmt: skip
    return Sheet(**{**fields, **given})


def enter(
    floor: Floor, what: Sheet, who: Any = INSPECTOR, number: str = FIRST
) -> dict[str, Any]:
    """One person enters the sheet."""
    return floor.do(EnterSheet(number=number, sheet=what, key=floor.key()), who)


def book(floor: Floor, who: Any = SECOND, number: str = FIRST) -> dict[str, Any]:
    """Book what two people agree on."""
    return floor.do(BookSheet(number=number, key=floor.key()), who)


def test_agreed_by_two_it_is_booked_at_the_times_of_the_sheet(
    floor: Floor, store_url: str
) -> None:
    pack(floor)
    what = sheet(floor)

    first = enter(floor, what)
    second = enter(floor, what, SECOND)
    book(floor)

    with floor.ledger.read(CODE) as read:
        measure, end = read_events(read, "O-1")[-2:]
    assert (first["agreed"], second["agreed"]) == (False, True)
    assert floor.part("O-1").step == 40
    assert [measure.kind, end.kind] == ["measure", "end"]
    assert end.at_us == what.ended_us
    assert end.actor == "insp-1"
    assert f"paper {FIRST}" in end.payload
    assert compare(store_url)[1] is None


def test_one_entry_books_nothing(floor: Floor) -> None:
    pack(floor)
    enter(floor, sheet(floor))

    with pytest.raises(Refused, match="a second person enters the sheet first"):
        book(floor)

    assert floor.part("O-1").step == 30


def test_the_same_person_twice_is_no_second_check(floor: Floor) -> None:
    pack(floor)
    what = sheet(floor)

    again = [enter(floor, what), enter(floor, what)]

    assert not any(one["agreed"] for one in again)
    with pytest.raises(Refused, match="a second person"):
        book(floor)


def test_a_difference_is_named_and_nothing_is_booked(floor: Floor) -> None:
    pack(floor)
    enter(floor, sheet(floor))
    what = sheet(floor, readings={"chord": 11.3})
    enter(floor, what, SECOND)

    with pytest.raises(Refused, match=r"the two entries differ: .*readings chord"):
        book(floor)

    assert floor.part("O-1").step == 30


def test_put_right_the_two_agree(floor: Floor) -> None:
    pack(floor)
    right = sheet(floor)
    enter(floor, sheet(floor, readings={"chord": 11.9}))
    enter(floor, right, SECOND)

    enter(floor, right)
    book(floor)

    assert floor.part("O-1").step == 40


def test_a_number_is_booked_once(floor: Floor) -> None:
    pack(floor)
    what = sheet(floor)
    enter(floor, what)
    enter(floor, what, SECOND)
    book(floor)

    with pytest.raises(Clash, match="was booked; a number is used once"):
        enter(floor, what)
    with pytest.raises(Clash, match="was booked"):
        book(floor)


def test_what_happened_meanwhile_refuses_it_and_the_entries_stay(floor: Floor) -> None:
    """The part was passed in the record while the sheet lay about: order conflicts."""
    pack(floor)
    what = sheet(floor)
    floor.clock.at_us -= 55 * MINUTE_US
    floor.book("end", "O-1", INSPECTOR, step=30, outcome="pass")
    floor.clock.at_us += 55 * MINUTE_US
    enter(floor, what)
    enter(floor, what, SECOND)

    with pytest.raises(Refused):
        book(floor)

    with floor.ledger.read(CODE) as read:
        kinds = [event.kind for event in read_events(read, "O-1")]
    assert kinds[-1] == "end"
    assert kinds.count("measure") == 0


def test_a_reading_outside_passes_on_no_paper(floor: Floor) -> None:
    pack(floor)
    what = sheet(floor, readings={"chord": 12.5})
    enter(floor, what)
    enter(floor, what, SECOND)

    with pytest.raises(Refused, match="outside its limits: chord"):
        book(floor)

    assert floor.part("O-1").step == 30


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"by": ""}, "nobody here is called nothing"),
        ({"by": "stranger"}, "nobody here is called stranger"),
        ({"outcome": ""}, "say both when it ended and how"),
        ({"outcome": "scrap"}, "book anything else at the Bench"),
        ({"ended_us": 0}, "ended before it began"),
        ({"readings": {"width": 1.0}}, "step 30 reads no width"),
    ],
)
def test_what_cannot_stand_on_a_sheet_is_refused(
    floor: Floor, given: dict[str, Any], why: str
) -> None:
    pack(floor)

    with pytest.raises(Refused, match=why):
        enter(floor, sheet(floor, **given))


def test_a_time_ahead_of_the_clock_is_refused(floor: Floor) -> None:
    pack(floor)
    late = floor.clock.at_us + 60 * MINUTE_US

    with pytest.raises(Refused, match="ahead of the server's clock"):
        enter(floor, sheet(floor, ended_us=late))


def test_a_sheet_given_up_says_why(floor: Floor) -> None:
    pack(floor)

    with pytest.raises(Refused, match="say why"):
        floor.do(GiveUpSheet(number=FIRST, reason=" ", key=floor.key()), INSPECTOR)
    floor.do(GiveUpSheet(number=FIRST, reason="came back blank", key=floor.key()), INSPECTOR)

    with pytest.raises(Clash, match="is not used: came back blank"):
        enter(floor, sheet(floor))


def test_packs_are_numbered_on_and_hold_what_is_at_a_step(floor: Floor) -> None:
    pack(floor)
    floor.bring_to("O-2", 10)

    again = floor.do(MakePack(key=floor.key()), SUPERVISOR)

    assert again == {"pack": "P-0002", "sheets": 2}
    with pytest.raises(Refused, match="no part is at a step there"):
        floor.do(MakePack(group="elsewhere", key=floor.key()), SUPERVISOR)


def test_unknown_numbers_are_missing_and_strangers_enter_nothing(floor: Floor) -> None:
    pack(floor)

    with pytest.raises(Missing, match="no sheet P-0009-001"):
        enter(floor, sheet(floor), number="P-0009-001")
    with pytest.raises(Forbidden):
        enter(floor, sheet(floor), DELEGATE)

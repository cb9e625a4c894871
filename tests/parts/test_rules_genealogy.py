"""Parts made of parts, parted parts, new marks, and where parts lie."""

from __future__ import annotations

import pytest

from ringwright.bench.acts import Move
from ringwright.bench.genealogy import Join, Remark, Split
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.flow.service import read_week_numbers
from ringwright.parts.tables import Life, Link
from ringwright.replaying import compare
from tests.make.floor import CODE, MAKER, Floor, actor


def links(floor: Floor) -> set[tuple[str, str, str]]:
    return set(floor.rows([Link.link, Link.parent, Link.child], Link.known_to_us >= 2**62))


def wip(floor: Floor) -> int:
    with floor.ledger.read(CODE) as read:
        return sum(read_week_numbers(read, "OAR", "2026-W40").wip.values())


def create(floor: Floor, *serials: str) -> None:
    for serial in serials:
        floor.book("create", serial)


def join(floor: Floor, whole: str, *members: str) -> dict[str, object]:
    return floor.do(Join(serial=whole, key=floor.key(), members=members), MAKER)


def split(floor: Floor, whole: str, *pieces: str) -> dict[str, object]:
    return floor.do(Split(serial=whole, key=floor.key(), pieces=pieces), MAKER)


def remark(floor: Floor, serial: str, mark: str, scanned: str) -> dict[str, object]:
    return floor.do(Remark(serial=serial, key=floor.key(), mark=mark, scanned=scanned), MAKER)


def test_joined_members_are_used_up_and_leave_the_work_in_progress(
    floor: Floor, store_url: str
) -> None:
    create(floor, "SHEET-1", "SHEET-2", "BLADE")
    assert wip(floor) == 3

    join(floor, "BLADE", "SHEET-1", "SHEET-2")

    assert links(floor) == {("join", "SHEET-1", "BLADE"), ("join", "SHEET-2", "BLADE")}
    assert floor.part("SHEET-1").place == "fitted"
    assert floor.part("BLADE").place == "waiting"
    assert wip(floor) == 1
    used = floor.rows([Life.serial], Life.used_us.is_not(None))
    assert used == [("SHEET-1",), ("SHEET-2",)]
    assert compare(store_url)[1] is None


def test_a_split_uses_the_whole_up_and_its_pieces_go_on(floor: Floor, store_url: str) -> None:
    create(floor, "MOULD", "PIECE-1", "PIECE-2")

    split(floor, "MOULD", "PIECE-1", "PIECE-2")

    assert links(floor) == {("split", "MOULD", "PIECE-1"), ("split", "MOULD", "PIECE-2")}
    assert floor.part("MOULD").place == "fitted"
    assert floor.visit("PIECE-1", 10)["part"]["step"] == 20
    assert wip(floor) == 2
    assert compare(store_url)[1] is None


def test_a_used_part_takes_no_more_bookings_and_is_not_used_twice(floor: Floor) -> None:
    create(floor, "SHEET", "ONE", "OTHER")
    join(floor, "ONE", "SHEET")
    before = floor.events()

    with pytest.raises(Refused, match="no step is due"):
        floor.book("begin", "SHEET", MAKER, step=10)
    with pytest.raises(Refused, match="used already"):
        join(floor, "OTHER", "SHEET")

    assert floor.events() == before


def test_a_join_is_refused_whole_when_one_member_cannot_be_used(floor: Floor) -> None:
    create(floor, "FREE", "HELD", "BUSY", "BLADE")
    floor.book("hold", "HELD", reason="crack")
    floor.book("begin", "BUSY", MAKER, step=10)
    before = floor.events()

    with pytest.raises(Refused, match="HELD is on hold: crack"):
        join(floor, "BLADE", "FREE", "HELD")
    with pytest.raises(Refused, match="BUSY is in work"):
        join(floor, "BLADE", "FREE", "BUSY")
    with pytest.raises(Missing, match="no part NONE"):
        join(floor, "BLADE", "FREE", "NONE")

    assert floor.events() == before
    assert links(floor) == set()
    assert floor.part("FREE").place == "waiting"


@pytest.mark.parametrize("members", [(), ("A", "A"), ("A", "BLADE")])
def test_a_join_names_each_other_part_once(floor: Floor, members: tuple[str, ...]) -> None:
    create(floor, "A", "BLADE")

    with pytest.raises(Refused, match="name each other part once"):
        join(floor, "BLADE", *members)


def test_a_new_mark_finds_the_part_and_the_old_one_says_which_it_is_now(
    floor: Floor, store_url: str
) -> None:
    create(floor, "OLD")

    remark(floor, "OLD", "NEW", "NEW")

    assert floor.part("NEW").serial == "OLD"
    assert floor.book("begin", "NEW", MAKER, step=10)["part"]["serial"] == "OLD"
    with pytest.raises(Refused, match="mark OLD is retired; the part bears NEW now"):
        floor.part("OLD")
    assert compare(store_url)[1] is None


def test_a_mark_that_the_scan_does_not_read_is_refused(floor: Floor) -> None:
    create(floor, "OLD")

    with pytest.raises(Refused, match="scan does not read the new mark"):
        remark(floor, "OLD", "NEW", "NEVV")
    with pytest.raises(Refused, match="scan does not read the new mark"):
        remark(floor, "OLD", " ", " ")

    assert floor.part("OLD").mark is None


def test_a_mark_that_another_part_bears_is_refused(floor: Floor) -> None:
    create(floor, "OLD", "OTHER")

    with pytest.raises(Refused, match="another part's serial"):
        remark(floor, "OLD", "OTHER", "OTHER")


def test_a_retired_mark_cannot_be_given_to_a_new_part(floor: Floor) -> None:
    create(floor, "OLD")
    remark(floor, "OLD", "NEW", "NEW")

    with pytest.raises(Refused, match="retired"):
        create(floor, "OLD")
    with pytest.raises(Refused, match="exists already"):
        create(floor, "NEW")


def test_a_part_lies_where_it_was_last_scanned(floor: Floor, store_url: str) -> None:
    create(floor, "A")
    assert floor.part("A").whereabouts is None

    for place in ("rack-1", "quarantine cage"):
        floor.do(Move(serial="A", key=floor.key(), to=place), MAKER)
    moved_us = floor.clock.at_us

    assert floor.part("A").whereabouts == "quarantine cage"
    assert floor.part("A", moved_us).whereabouts == "rack-1"
    with pytest.raises(Refused, match="scan where"):
        floor.do(Move(serial="A", key=floor.key(), to=" "), MAKER)
    assert compare(store_url)[1] is None


def test_who_has_no_business_with_genealogy_may_not_touch_it(floor: Floor) -> None:
    create(floor, "A", "B")
    manager = actor("boss", "manager")

    with pytest.raises(Forbidden):
        floor.do(Join(serial="A", key="k", members=("B",)), manager)
    with pytest.raises(Forbidden):
        floor.do(Move(serial="A", key="k", to="rack"), manager)

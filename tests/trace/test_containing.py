"""Containing holds what is here, opens notices for what is sent, notes what is scrapped."""

from __future__ import annotations

import threading

import pytest
from sqlalchemy import event

from ringwright.bench.genealogy import Join
from ringwright.core.errors import Clash, Forbidden, Missing, Refused
from ringwright.replaying import compare
from ringwright.trace.question import without_question
from ringwright.trace.service import Clear, Contain, SendNotice
from tests.trace.works import (
    CODE,
    MAKER,
    MANAGER,
    QUALITY,
    SUPERVISOR,
    Works,
    line,
    open_works,
    plate,
    question,
)


def test_containing_holds_opens_notices_and_notes_part_by_part(works: Works) -> None:
    answer = works.contain(station="INF-1")

    assert (answer["containment"], answer["parts"]) == ("C-1", 5)
    assert answer["done"] == {"hold": 3, "keep": 0, "notice": 1, "note": 1}
    standing = {p.serial: p.standing for p in works.touched(station="INF-1").parts}
    assert all(one.contained == ("C-1",) for one in standing.values())
    assert [s for s, one in standing.items() if one.hold] == ["A-3", "A-4", "A-6"]
    assert [s for s, one in standing.items() if one.open_notices] == ["A-1"]
    assert works.part("A-5").hold is None


def test_the_reason_is_kept_with_the_question_and_both_are_read_back(works: Works) -> None:
    works.contain("corner 14 degC low", station="INF-1", since="2026-09-22T00:00")

    hold = works.part("A-3").hold
    assert hold is not None
    reason, asked = without_question(hold.removeprefix("containment C-1: "))
    assert reason == "corner 14 degC low"
    assert asked == question(station="INF-1", since="2026-09-22T00:00")
    assert works.part("A-1").hold is None


def test_the_same_key_contains_once_and_answers_the_same(works: Works) -> None:
    command = works.containing(station="INF-1")
    first, again = works.do(command), works.do(command)

    assert first == again
    assert works.kinds("A-3").count("contain") == 1


def test_what_was_touched_since_the_person_looked_is_named_and_nothing_is_booked(
    works: Works,
) -> None:
    command = works.containing(station="INF-1")
    works.load(plate("A-7", "09-30", until="20"))

    with pytest.raises(Clash, match="touched since you looked: A-7"):
        works.do(command)
    assert works.part("A-3").hold is None
    assert works.contain(station="INF-1")["parts"] == 6


def test_a_part_sent_since_the_person_looked_is_named(works: Works) -> None:
    command = works.containing(station="INF-1")
    works.load(line("09-30T15:00", "A-3", "send", step=30))

    with pytest.raises(Clash, match="stand otherwise now: A-3"):
        works.do(command)


def test_of_two_who_contain_at_once_one_looks_again(works: Works) -> None:
    commands = [works.containing(station="INF-1") for _ in range(4)]
    told: list[object] = []

    def run(command: Contain) -> None:
        try:
            told.append(works.ledger.execute(CODE, command, QUALITY)["containment"])
        except Clash as clash:
            told.append(clash.code)

    threads = [threading.Thread(target=run, args=(command,)) for command in commands]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert sorted(map(str, told)) == ["C-1", "acted-first", "acted-first", "acted-first"]
    assert works.kinds("A-3").count("contain") == 1


def test_the_same_key_from_two_at_once_is_one_containment(works: Works) -> None:
    command = works.containing(station="INF-1")
    told: list[str] = []
    run = lambda: told.append(works.ledger.execute(CODE, command, QUALITY)["containment"])  # noqa: E731
    threads = [threading.Thread(target=run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert told == ["C-1"] * 4
    assert works.kinds("A-3").count("contain") == 1


def test_a_held_part_keeps_its_hold_and_a_second_containment_gets_its_own_code(
    works: Works,
) -> None:
    works.contain(lot="L-2")
    answer = works.contain("lot looked at again", lot="L-2")

    assert (answer["containment"], answer["also_in_others"]) == ("C-2", 3)
    assert answer["done"]["keep"] == 3
    assert "C-1" in str(works.part("A-3").hold)


def test_clearing_lifts_the_hold_of_those_parts_alone(works: Works) -> None:
    works.contain(station="INF-1")
    works.do(Clear(key="c", containment="C-1", serials=("A-3", "A-1"), reason="checked, sound"))

    standing = {p.serial: p.standing for p in works.touched(station="INF-1").parts}
    assert works.part("A-3").hold is None
    assert works.part("A-4").hold is not None
    assert standing["A-1"].open_notices == standing["A-1"].contained == ()


def test_a_notice_goes_to_somebody_and_is_then_sent(works: Works) -> None:
    works.contain(station="INF-1")
    works.do(
        SendNotice(key="n", containment="C-1", serials=("A-1",), to="tunnel operator"), MANAGER
    )
    (sent,) = [p.standing for p in works.touched(part="A-1").parts]
    assert sent.told == (("C-1", "tunnel operator"),)
    assert sent.open_notices == ()


def test_a_refusal_names_every_part_and_books_none(works: Works) -> None:
    works.contain(lot="L-2")
    both = ("A-3", "A-1", "A-2")

    with pytest.raises(Refused, match=r"A-1 is not in containment C-1; A-2 is not"):
        works.do(Clear(key="c", containment="C-1", serials=both, reason="sound"))
    assert works.part("A-3").hold is not None
    with pytest.raises(Refused, match="A-3 has no open notice"):
        works.do(SendNotice(key="n", containment="C-1", serials=("A-3",), to="them"))


def test_reason_parts_and_code_are_asked_for(works: Works) -> None:
    with pytest.raises(Refused, match="say what is wrong"):
        works.do(works.containing("  ", station="INF-1"))
    with pytest.raises(Refused, match="nothing was touched"):
        works.do(works.containing(lot="L-9"))
    with pytest.raises(Missing, match="no containment C-7"):
        works.do(Clear(key="c", containment="C-7", serials=("A-3",), reason="sound"))
    with pytest.raises(Refused, match="at least one part"):
        works.do(Clear(key="d", containment="C-7", serials=(), reason="sound"))


def test_who_may_contain_clear_and_send(works: Works) -> None:
    with pytest.raises(Forbidden):
        works.do(works.containing(lot="L-2"), MAKER)
    works.do(works.containing(lot="L-2"), SUPERVISOR)
    clearing = Clear(key="c", containment="C-1", serials=("A-3",), reason="sound")
    with pytest.raises(Forbidden):
        works.do(clearing, SUPERVISOR)
    works.do(clearing, QUALITY)
    with pytest.raises(Forbidden):
        works.do(SendNotice(key="n", containment="C-1", serials=("A-3",), to="x"), SUPERVISOR)


def test_what_a_suspect_part_went_into_is_held_with_it(works: Works) -> None:
    works.do(Join(serial="A-5", key="j", members=("A-4",)), MAKER)
    works.contain(station="INF-1")

    assert works.part("A-5").hold is not None
    assert works.part("A-5").lot == "L-1"


def test_projections_are_as_a_replay_makes_them(works: Works, store_url: str) -> None:
    works.contain(station="INF-1")
    works.do(Clear(key="c", containment="C-1", serials=("A-3",), reason="sound"))
    works.do(SendNotice(key="n", containment="C-1", serials=("A-1",), to="them"))

    folded, difference = compare(store_url)
    assert difference is None
    assert folded > 30


@pytest.mark.slow
def test_a_thousand_parts_are_contained_in_a_bounded_number_of_statements(
    store_url: str,
) -> None:
    works = open_works(store_url, "".join(plate(f"S-{n:04}", "09-22") for n in range(1000)))
    command = works.containing(station="INF-1")
    asked: list[str] = []
    event.listen(
        works.ledger.store.engine, "before_cursor_execute", lambda *a: asked.append(a[2])
    )
    answer = works.do(command)
    works.ledger.store.close()

    assert answer["done"]["hold"] == 1000
    assert len(asked) < 120, len(asked)

"""Repairs, concessions, lost releases and weighty corrections are signed by a second person.

ISO 9001:2015, 8.7 (who decides on a nonconforming output is named in the record) and AS9100D,
8.7 (repair and use as it is are the design authority's) stand behind it, both from memory; the
second signature is the shop's own rule. That a correction says who made it is the
"attributable" of ALCOA+ (WHO TRS 1033, Annex 4, from memory).
"""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.assembly import SYSTEM
from ringwright.bench.acts import Inspect, Sentence, Stop
from ringwright.bench.correcting import Correct
from ringwright.core.errors import Clash, Forbidden, Refused, SecondNeeded
from ringwright.ledger.tables import BookingKey, Event, Refusal
from ringwright.ledger.transaction import Actor
from ringwright.replaying import compare
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from tests.make.floor import (
    DELEGATE,
    INSPECTOR,
    MAKER,
    MAKER_2,
    QUALITY,
    SUPERVISOR,
    Floor,
    actor,
)
from tests.make.second import signed

ROLE_OF = {"da-1": "design-authority", "man-1": "manager", "qe-1": "quality-engineer"}
ROLE_OF |= {"sup-1": "supervisor", "insp-1": "inspector", "da-2": "design-authority"}
TOKEN = Actor(
    code="design-authority",
    roles=frozenset({"design-authority"}),
    self_inspection=True,
    person=False,
)
PLAIN = """
[product]
code = "PEG"
name = "Peg"
[[step]]
number = 10
name = "Turn"
kind = "machining"
"""
PAPERS: dict[str, Any] = {"document": "DA-7", "scope": "this blade", "quantity": 1}


def with_second(who: Actor, code: str) -> Actor:
    return signed(who, code, ROLE_OF[code])


def entries(floor: Floor) -> list[tuple[Any, ...]]:
    return floor.rows([Event.site_seq, Event.kind, Event.actor, Event.approver])


def approvers(floor: Floor, after: int) -> list[tuple[Any, ...]]:
    return floor.rows([Event.kind, Event.actor, Event.approver], Event.site_seq > after)


def stopped(floor: Floor, *, released: bool = False) -> int:
    """A part stopped at its inspection, or after its release: the nonconformity's number."""
    floor.bring_to("A", 40 if released else 30)
    if released:
        floor.book("end", "A", MAKER, step=40, outcome="pass")
    told = floor.do(Stop(serial="A", key=floor.key(), defect="dent"), INSPECTOR)
    return int(told["event"]["site_seq"])


def sentence(number: int, decision: str, key: str = "s", **given: Any) -> Sentence:
    usual: dict[str, dict[str, Any]] = {
        "scrap": {"defect": "dent", "caused_step": 20, "kept": "marked"},
        "rework": {"card": "RW-WELD"},
        "withdrawn": {"reason": "a shadow"},
    }
    more = usual.get(decision, PAPERS)
    return Sentence(
        serial="A", key=key, nonconformity=number, decision=decision, **{**more, **given}
    )


@pytest.mark.parametrize("outcome", ["repair", "concession"])
def test_an_end_in_repair_or_concession_waits_for_a_second_person_and_leaves_no_trace(
    floor: Floor, store_url: str, outcome: str
) -> None:
    floor.bring_to("A", 30)
    before = entries(floor)
    given = {"step": 30, "outcome": outcome, "key": "once"}

    with pytest.raises(SecondNeeded) as asked:
        floor.book("end", "A", DELEGATE, **given)

    assert asked.value.permission == f"second: {outcome}"
    assert entries(floor) == before
    assert floor.rows([BookingKey.key], BookingKey.key == "once") == []
    assert floor.rows([Refusal.at_us]) == []
    first = floor.book("end", "A", with_second(DELEGATE, "qe-1"), **given)
    assert approvers(floor, before[-1][0]) == [("end", "da-1", "qe-1")]
    assert floor.book("end", "A", DELEGATE, **given) == first
    assert compare(store_url)[1] is None


@pytest.mark.parametrize(
    ("second", "why"),
    [("da-1", "da-1 acts already"), ("insp-1", "role of insp-1"), ("man-1", "role of man-1")],
)
def test_the_second_person_is_another_with_the_right_role(
    sqlite_floor: Floor, second: str, why: str
) -> None:
    number = stopped(sqlite_floor)
    before = entries(sqlite_floor)

    with pytest.raises(Forbidden, match=why):
        sqlite_floor.do(sentence(number, "repair"), with_second(DELEGATE, second))

    assert entries(sqlite_floor) == before


def test_the_second_person_is_not_the_one_whom_the_entry_names(sqlite_floor: Floor) -> None:
    sqlite_floor.bring_to("A", 30)

    with pytest.raises(Forbidden, match="da-2 acts already"):
        sqlite_floor.book(
            "end", "A", with_second(DELEGATE, "da-2"), step=30, outcome="repair", by="da-2"
        )


def test_the_second_person_has_not_worked_on_the_part(sqlite_floor: Floor) -> None:
    sqlite_floor.book("create", "A")
    sqlite_floor.visit("A", 10, who=QUALITY)
    told = sqlite_floor.do(Stop(serial="A", key="x", defect="dent"), INSPECTOR)
    number = told["event"]["site_seq"]

    with pytest.raises(Forbidden, match="qe-1 worked on A and may not be the second person"):
        sqlite_floor.do(sentence(number, "concession"), with_second(DELEGATE, "qe-1"))

    sqlite_floor.do(sentence(number, "concession"), with_second(DELEGATE, "da-2"))


def test_a_token_of_a_role_books_as_before(sqlite_floor: Floor) -> None:
    sqlite_floor.bring_to("A", 30)

    sqlite_floor.book("end", "A", TOKEN, step=30, outcome="repair")

    assert entries(sqlite_floor)[-1][1:] == ("end", "design-authority", None)


@pytest.mark.parametrize(
    ("released", "decision", "who", "second"),
    [
        (False, "repair", DELEGATE, "qe-1"),
        (False, "concession", DELEGATE, "da-2"),
        (False, "rework", QUALITY, None),
        (False, "scrap", QUALITY, None),
        (False, "withdrawn", QUALITY, None),
        (True, "repair", DELEGATE, "qe-1"),
        (True, "concession", DELEGATE, "qe-1"),
        (True, "scrap", QUALITY, "man-1"),
        (True, "withdrawn", QUALITY, None),
    ],
)
def test_a_sentence_needs_a_second_person_where_it_gives_way_or_undoes_a_release(
    floor: Floor, released: bool, decision: str, who: Actor, second: str | None
) -> None:
    number = stopped(floor, released=released)

    if second is not None:
        with pytest.raises(SecondNeeded):
            floor.do(sentence(number, decision), who)
        assert floor.part("A").last_seq == number
    floor.do(sentence(number, decision), with_second(who, second) if second else who)

    assert approvers(floor, number) == [("sentence", who.code, second)]


def test_a_rework_that_takes_a_release_back_is_signed_too(floor: Floor) -> None:
    floor.do(LoadRoute(card=parse_route(PLAIN, "route")), SYSTEM)
    floor.book("create", "A", product="PEG")
    floor.visit("A", 10)
    number = floor.do(Stop(serial="A", key="x", defect="dent"), INSPECTOR)["event"]["site_seq"]

    with pytest.raises(SecondNeeded, match="the release of A") as asked:
        floor.do(sentence(number, "rework", card=None), QUALITY)
    assert asked.value.permission == "second: scrap"
    told = floor.do(sentence(number, "rework", card=None), with_second(QUALITY, "man-1"))

    assert told["part"]["place"] == "waiting"
    assert approvers(floor, number) == [("sentence", "qe-1", "man-1")]


def test_every_other_refusal_comes_before_a_second_person_is_asked(floor: Floor) -> None:
    number = stopped(floor, released=True)

    with pytest.raises(Refused, match="no open nonconformity"):
        floor.do(sentence(number + 999, "scrap"), QUALITY)
    with pytest.raises(Refused, match="no rework card NONE"):
        floor.do(sentence(number, "rework", card="NONE"), QUALITY)
    with pytest.raises(Refused, match="document number"):
        floor.do(sentence(number, "repair", document=""), DELEGATE)
    with pytest.raises(Forbidden):
        floor.do(sentence(number, "repair"), QUALITY)
    with pytest.raises(Clash, match="acted on A first"):
        floor.do(sentence(number, "scrap", seen=1), QUALITY)
    with pytest.raises(Refused, match="no open visit"):
        floor.book("end", "A", DELEGATE, step=40, outcome="concession")


# ---- corrections ------------------------------------------------------------------------


def read(floor: Floor, value: float = 11.0) -> int:
    """A part in work at its inspection with one reading by insp-1: the reading's entry."""
    floor.bring_to("A", 30)
    given = {"step": 30, "characteristic": "chord", "unit": "mm", "value": value}
    return int(floor.book("measure", "A", INSPECTOR, **given)["event"]["site_seq"])


def correct(entry: int, key: str = "c", **changes: Any) -> Correct:
    void = changes.pop("void", False)
    return Correct(
        serial="A", key=key, entry=entry, reason="misread", void=void, changes=changes
    )


def go_on(floor: Floor) -> None:
    """Pass the inspection and begin the next step."""
    floor.do(Inspect(serial="A", key=floor.key()), INSPECTOR)
    floor.book("begin", "A", MAKER, step=40)


@pytest.mark.parametrize("who", [INSPECTOR, SUPERVISOR, QUALITY], ids=lambda who: who.code)
def test_a_typo_before_the_next_step_needs_one_person_and_a_reason(
    floor: Floor, store_url: str, who: Actor
) -> None:
    entry = read(floor)
    floor.do(Inspect(serial="A", key="pass"), INSPECTOR)  # the visit is over, no step begun
    silent = Correct(serial="A", key="c", entry=entry, changes={"value": 11.2})

    with pytest.raises(Refused, match="needs its reason"):
        floor.do(silent, who)
    floor.do(correct(entry, value=11.2), who)

    assert entries(floor)[-1][1:] == ("correct", who.code, None)
    assert compare(store_url)[1] is None


@pytest.mark.parametrize(
    ("who", "changes"),
    [
        (MAKER, {"value": 11.2}),
        (actor("insp-2", "inspector"), {"value": 11.2}),
        (INSPECTOR, {"void": True}),
        (INSPECTOR, {"at_us": 1_790_000_000_000_000}),
        (INSPECTOR, {"by": "insp-2"}),
        (INSPECTOR, {"value": 12.5}),
    ],
)
def test_a_typo_is_mended_by_who_made_it_and_only_a_small_one(
    sqlite_floor: Floor, who: Actor, changes: dict[str, Any]
) -> None:
    entry = read(sqlite_floor)
    sqlite_floor.clock.at_us += 3_600_000_000

    with pytest.raises((Forbidden, Refused)):
        sqlite_floor.do(correct(entry, **changes), who)

    assert entries(sqlite_floor)[-1][0] == entry


def test_who_made_an_entry_does_not_overrule_who_corrected_it(sqlite_floor: Floor) -> None:
    entry = read(sqlite_floor)
    sqlite_floor.do(correct(entry, value=11.2), SUPERVISOR)

    with pytest.raises(Forbidden, match="a supervisor can correct it"):
        sqlite_floor.do(correct(entry, key="c2", value=11.0), INSPECTOR)


def test_after_the_next_step_was_begun_every_correction_needs_a_second_person(
    floor: Floor,
) -> None:
    entry = read(floor)
    go_on(floor)
    last = floor.part("A").last_seq

    with pytest.raises(Forbidden, match="a supervisor can correct it"):
        floor.do(correct(entry, value=11.2), INSPECTOR)
    with pytest.raises(SecondNeeded, match="after the part went on") as asked:
        floor.do(correct(entry, value=11.2), SUPERVISOR)
    assert asked.value.permission == "second: correct"
    floor.do(correct(entry, value=11.2), with_second(SUPERVISOR, "qe-1"))

    assert approvers(floor, last) == [("correct", "sup-1", "qe-1")]


def test_a_reading_whose_verdict_changes_needs_a_second_person_in_an_open_visit_too(
    sqlite_floor: Floor,
) -> None:
    floor = sqlite_floor
    outside = read(floor, 12.5)

    for changes in ({"value": 11.5}, {"void": True}):
        with pytest.raises(SecondNeeded, match="changes a decision"):
            floor.do(correct(outside, **changes), SUPERVISOR)
    floor.do(correct(outside, value=12.6), SUPERVISOR)  # outside as before
    floor.do(correct(outside, key="c2", value=11.5), with_second(QUALITY, "sup-1"))


def test_the_order_of_two_readings_decides_what_a_pass_rests_on(sqlite_floor: Floor) -> None:
    floor = sqlite_floor
    outside = read(floor, 12.5)
    given = {"step": 30, "characteristic": "chord", "unit": "mm", "value": 11.0}
    inside = floor.book("measure", "A", INSPECTOR, **given)["event"]["site_seq"]
    ended = floor.do(Inspect(serial="A", key="pass"), INSPECTOR)["event"]["site_seq"]
    (at_us,) = floor.rows([Event.at_us], Event.site_seq == inside)[0]

    with pytest.raises(SecondNeeded, match="changes a decision"):
        floor.do(correct(outside, at_us=at_us + 1), SUPERVISOR)
    with pytest.raises(SecondNeeded, match="changes a decision"):
        floor.do(correct(inside, void=True), SUPERVISOR)

    assert floor.part("A").last_seq == ended


@pytest.mark.parametrize(
    ("kind", "changes"),
    [
        ("end", {"outcome": "rework"}),
        ("end", {"void": True}),
        ("hold", {"void": True}),
        ("begin", {"by": "maker-2"}),
    ],
)
def test_a_decision_or_a_name_is_not_changed_by_one_person(
    floor: Floor, kind: str, changes: dict[str, Any]
) -> None:
    floor.book("create", "A")
    floor.visit("A", 10)
    floor.book("hold", "A", INSPECTOR, reason="look")
    found = {name: seq for seq, name, _, _ in entries(floor)}
    if kind == "end":
        floor.book("unhold", "A", SUPERVISOR)

    with pytest.raises(SecondNeeded):
        floor.do(correct(found[kind], **changes), SUPERVISOR)
    floor.do(correct(found[kind], **changes), with_second(SUPERVISOR, "qe-1"))

    assert entries(floor)[-1][1:] == ("correct", "sup-1", "qe-1")


def test_texts_and_moves_are_plain_whatever_they_stand_on(sqlite_floor: Floor) -> None:
    floor = sqlite_floor
    floor.book("create", "A")
    floor.visit("A", 10, "rework", SUPERVISOR, defect="dint")
    end = floor.part("A").last_seq
    floor.do(correct(end, defect="dent"), SUPERVISOR)
    stop = floor.do(Stop(serial="A", key="stop", defect="scrach"), INSPECTOR)

    floor.do(correct(stop["event"]["site_seq"], key="c2", defect="scratch"), INSPECTOR)

    assert [row[3] for row in entries(floor)[-2:]] == [None, None]


def test_a_void_concession_does_not_come_back_but_by_whoever_may_give_one(
    sqlite_floor: Floor,
) -> None:
    floor = sqlite_floor
    floor.bring_to("A", 30)
    both = with_second(DELEGATE, "qe-1")
    given = floor.book("end", "A", both, step=30, outcome="concession")["event"]["site_seq"]
    floor.do(correct(given, void=True), with_second(SUPERVISOR, "qe-1"))

    with pytest.raises(Forbidden, match="into concession by whoever may book one"):
        floor.do(correct(given, key="c2", reason="again"), with_second(SUPERVISOR, "qe-1"))

    every = Actor(code="da-9", roles=frozenset({"design-authority", "supervisor"}))
    with pytest.raises(SecondNeeded) as asked:
        floor.do(correct(given, key="c3", reason="again"), every)
    assert asked.value.permission == "second: concession"


def test_a_release_corrected_into_scrap_is_signed_as_scrap(sqlite_floor: Floor) -> None:
    floor = sqlite_floor
    floor.bring_to("A", 40)
    end = floor.book("end", "A", MAKER, step=40, outcome="pass")["event"]["site_seq"]

    with pytest.raises(SecondNeeded) as asked:
        floor.do(correct(end, outcome="scrap"), QUALITY)
    assert asked.value.permission == "second: scrap"
    floor.do(correct(end, outcome="scrap"), with_second(QUALITY, "man-1"))
    assert floor.part("A").place == "scrapped"


def test_taking_back_at_once_stays_free_and_a_minute_later_does_not(floor: Floor) -> None:
    floor.book("create", "A")
    floor.visit("A", 10, who=MAKER_2)
    last = floor.part("A").last_seq
    undo = Correct(serial="A", key="undo", entry=last, void=True)

    with pytest.raises(Forbidden, match="the time to take it back is over"):
        floor.do(undo, MAKER_2)
    again = floor.book("begin", "A", MAKER_2, step=20)["event"]["site_seq"]
    floor.clock.at_us -= 59_000_000
    floor.do(Correct(serial="A", key="u2", entry=again, void=True), MAKER_2)

    assert entries(floor)[-1][1:] == ("correct", "maker-2", None)

"""Whereabouts, searches, priorities, containments and notices, fact by fact."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.parts.knowledge import believe, fold
from ringwright.parts.rows import FOREVER_US, ConditionRow
from ringwright.parts.state import Part
from ringwright.routecards.card import RouteCard
from ringwright.routecards.toml import parse_route
from tests.make.floor import ROUTE

CARD = parse_route(ROUTE)
Told = tuple[str, dict[str, Any]]
CREATED: Told = ("create", {"product": "OAR", "revision": "1", "lot": "L-7"})
CONTAINED: Told = ("contain", {"containment": "C-1", "reason": "survey failed"})
CLEARED: Told = ("clear", {"containment": "C-1"})


def find(_product: str, _revision: str) -> RouteCard:
    return CARD


def entries(*told: Told) -> list[Entry]:
    return [
        Entry(seq, kind, seq * 10, seq * 10, "qe-1", "", None, data)
        for seq, (kind, data) in enumerate(told, start=1)
    ]


def after(*told: Told) -> Part:
    return fold("A", entries(CREATED, *told), find)


def visit(step: int) -> tuple[Told, Told]:
    return ("begin", {"step": step}), ("end", {"step": step, "outcome": "pass"})


RELEASED = (*visit(10), *visit(20), *visit(30), *visit(40))


def test_a_part_lies_where_it_was_moved_last_and_the_places_before_are_kept() -> None:
    part = after(("move", {"to": "RACK-1"}), ("move", {"to": "TR-4"}))

    assert part.whereabouts == "TR-4"
    assert [(row.value, row.from_us, row.to_us) for row in part.conditions] == [
        ("RACK-1", 20, 30),
        ("TR-4", 30, FOREVER_US),
    ]


def test_a_sent_part_lies_nowhere_here_and_goes_before_nobody() -> None:
    raised = ("prioritise", {"rank": 1})
    part = after(*RELEASED, raised, ("move", {"to": "FG-1"}), ("send", {}))

    assert (part.whereabouts, part.priority) == (None, 0)
    assert part.open_condition("whereabouts") is None
    assert part.open_condition("priority") is None


def test_a_search_keeps_where_the_part_lay_and_ends_when_somebody_has_it_in_hand() -> None:
    sought = after(("move", {"to": "RACK-1"}), ("seek", {"reason": "not in the rack"}))
    row = sought.open_condition("search")

    assert sought.sought
    assert row is not None
    assert (row.value, row.note) == ("RACK-1", "not in the rack")

    begun = after(("seek", {}), ("begin", {"step": 10}))
    assert not begun.sought
    assert begun.open_condition("search") is None


def test_a_hold_does_not_end_a_search() -> None:
    assert after(("seek", {}), ("hold", {"reason": "until found"})).sought


def test_finding_a_part_moves_it_and_needs_a_search() -> None:
    found = after(("seek", {}), ("find", {"where": "under bench 3"}))

    assert (found.sought, found.whereabouts) == (False, "under bench 3")
    with pytest.raises(Refused, match="nobody looks for A"):
        after(("find", {"where": "RACK-1"}))
    with pytest.raises(Refused, match="looked for already"):
        after(("seek", {}), ("seek", {}))


def test_a_priority_is_raised_once_and_taken_back_once() -> None:
    raised = after(("prioritise", {"rank": 1, "reason": "set 44 waits for it"}))

    assert raised.priority == 1
    assert after(("prioritise", {"rank": 1}), ("prioritise", {"rank": 0})).priority == 0
    with pytest.raises(Refused, match="has that priority already"):
        after(("prioritise", {"rank": 1}), ("prioritise", {"rank": 1}))
    with pytest.raises(Refused, match="no priority to take back"):
        after(("prioritise", {"rank": 0}))


def test_containing_a_part_that_is_here_holds_it_until_it_is_cleared() -> None:
    part = after(CONTAINED)

    assert part.open_hold is not None
    assert part.open_hold.reason == "containment C-1: survey failed"
    with pytest.raises(Refused, match="in containment C-1; clearing it there"):
        after(CONTAINED, ("unhold", {}))
    with pytest.raises(Refused, match="in containment C-1 already"):
        after(CONTAINED, CONTAINED)
    assert after(CONTAINED, CLEARED).open_hold is None


def test_a_containment_in_work_is_not_passed_on_at_release() -> None:
    with pytest.raises(Refused, match="cannot be released"):
        after(*RELEASED[:-1], CONTAINED, RELEASED[-1])


def test_clearing_leaves_a_hold_that_somebody_placed_for_another_reason() -> None:
    part = after(("hold", {"reason": "burr"}), CONTAINED, CLEARED)

    assert part.open_hold is not None
    assert part.open_hold.reason == "burr"


def test_the_hold_stays_until_the_last_of_containments_and_stops_is_over() -> None:
    two = (CONTAINED, ("contain", {"containment": "C-2"}))
    stopped = (CONTAINED, ("stop", {"defect": "crack"}))
    withdrawn = ("sentence", {"nonconformity": 3, "decision": "withdrawn"})

    assert after(*two, CLEARED).open_hold is not None
    assert after(*two, CLEARED, ("clear", {"containment": "C-2"})).open_hold is None
    assert after(*stopped, CLEARED).open_hold is not None
    assert after(*stopped, withdrawn).open_hold is not None
    assert after(*stopped, withdrawn, CLEARED).open_hold is None
    assert after(*stopped, CLEARED, withdrawn).open_hold is None


def test_containing_a_sent_part_opens_a_notice_which_keeps_to_whom_it_went() -> None:
    sent: tuple[Told, ...] = (*RELEASED, ("send", {}), CONTAINED)
    part = after(*sent)

    assert (part.place, part.open_hold) == ("sent", None)
    assert part.open_condition("notice", "C-1") is not None
    told = after(*sent, ("notice-sent", {"containment": "C-1", "to": "Rotor hall 2"}))
    assert told.open_condition("notice") is None
    assert told.conditions[-1].note == "Rotor hall 2"
    with pytest.raises(Refused, match="no open notice of C-1"):
        after(*sent, CLEARED, ("notice-sent", {"containment": "C-1", "to": "Rotor hall 2"}))


def test_containing_a_scrapped_part_is_noted_and_holds_nothing() -> None:
    scrapped = (("begin", {"step": 10}), ("end", {"step": 10, "outcome": "scrap"}))
    part = after(*scrapped, CONTAINED)

    assert (part.place, part.open_hold) == ("scrapped", None)
    assert [row.kind for row in part.conditions] == ["containment"]


def test_a_visit_and_a_reading_know_their_product_lot_and_gauge() -> None:
    read = {"step": 30, "characteristic": "chord", "value": 11, "unit": "mm", "gauge": "CAL-2"}
    part = after(*visit(10), *visit(20), ("begin", {"step": 30}), ("measure", read))

    assert {(row.product, row.revision, row.part_lot) for row in part.visits} == {
        ("OAR", "1", "L-7")
    }
    assert part.visits[1].ended_by == "qe-1"
    assert (part.readings[0].gauge, part.readings[0].product) == ("CAL-2", "OAR")
    assert part.life.lot == "L-7"


@pytest.mark.parametrize("late", ["in order", "learned at the end"])
def test_conditions_are_believed_in_the_order_we_learned_them(
    late: str, check: Callable[[list[ConditionRow]], None]
) -> None:
    told = entries(CREATED, ("move", {"to": "RACK-1"}), CONTAINED, CLEARED)
    if late != "in order":
        told[1] = told[1]._replace(known_us=99)
    part, tables = believe("A", told, find)

    assert part.whereabouts == "RACK-1"
    check([row for row in tables[-1] if isinstance(row, ConditionRow)])


@pytest.fixture
def check() -> Callable[[list[ConditionRow]], None]:
    def one_line(rows: list[ConditionRow]) -> None:
        standing = [row for row in rows if row.known_to_us == FOREVER_US]
        assert sorted(row.kind for row in standing) == ["containment", "whereabouts"]
        assert all(row.known_from_us < row.known_to_us for row in rows)

    return one_line

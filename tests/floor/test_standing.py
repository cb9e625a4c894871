"""Where parts stand, now and as of the past, on both stores."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import event

from ringwright.core.errors import Missing
from ringwright.floor.standing import read_floor, resolve
from tests.floor.cell import HOUR_US, Cell
from tests.make.floor import CODE, INSPECTOR, QUALITY


def test_a_part_waits_where_its_last_visit_sent_it_and_hangs_where_it_is_in_work(
    cell: Cell,
) -> None:
    cell.cleaned("A", "B")
    cell.book("begin", "B", step=20, station="FB-1")

    waiting, working = cell.here("A"), cell.here("B")

    assert (waiting.step, waiting.in_work, working.step, working.in_work) == (
        20,
        False,
        20,
        True,
    )
    assert working.station == "FB-1"
    assert (waiting.plan_us, working.plan_us) == (6 * HOUR_US, 4 * HOUR_US)


def test_time_at_the_step_runs_by_the_clock_and_past_plan_it_is_late(cell: Cell) -> None:
    cell.book("create", "A")

    cell.wait(2)
    assert (cell.here("A").age_us, cell.here("A").late) == (2 * HOUR_US, False)
    cell.wait(0.1)
    assert cell.here("A").late


def test_a_hold_shows_its_reason_until_it_is_lifted(cell: Cell) -> None:
    cell.book("create", "A")
    cell.book("hold", "A", reason="lot in doubt")

    assert cell.here("A").hold == "lot in doubt"
    cell.book("unhold", "A", QUALITY)
    assert cell.here("A").hold is None


def test_a_released_or_scrapped_part_stands_nowhere(cell: Cell) -> None:
    cell.cleaned("A", "B")
    cell.visit("A", 20)
    cell.visit("A", 30, who=INSPECTOR)
    cell.book("begin", "B", step=20)
    cell.book("end", "B", QUALITY, step=20, outcome="scrap", defect="crack")

    assert cell.sheet().parts == ()


def test_a_part_lies_where_its_trolley_stands(cell: Cell) -> None:
    cell.cleaned("A")
    cell.move("A", to="TUB-4")
    cell.move(carriers=("TUB-4",), to="TR-1")
    cell.move(carriers=("TR-1",), to="RACK-2")

    assert cell.here("A").whereabouts == ("TUB-4", "TR-1", "RACK-2")


def test_a_ring_of_carriers_in_an_old_record_ends_the_chain() -> None:
    assert resolve("A", {"A": "B", "B": "A"}) == ("A", "B")


def test_the_clean_window_runs_from_the_end_of_the_cleaning(cell: Cell) -> None:
    cell.cleaned("A")
    cleaned_us = cell.clock.at_us

    cell.wait(2)
    window = cell.here("A").window
    assert window is not None
    assert window.deadline_us == cleaned_us + 3 * HOUR_US
    assert not cell.here("A").window_over
    cell.wait(1.5)
    assert cell.here("A").window_over
    assert cell.here("A").late


def test_no_window_runs_before_the_cleaning_nor_once_the_step_has_begun(cell: Cell) -> None:
    cell.book("create", "A")
    cell.cleaned("B")
    cell.book("begin", "B", step=20)

    assert (cell.here("A").window, cell.here("B").window) == (None, None)


def test_priority_and_search_show_until_they_end(cell: Cell) -> None:
    cell.book("create", "A")
    cell.first("A")
    cell.seek("A")

    assert (cell.here("A").priority, cell.here("A").sought) == (1, True)
    cell.first("A", rank=0)
    cell.find("A", "RACK-9")
    assert (cell.here("A").priority, cell.here("A").sought) == (0, False)
    assert cell.here("A").whereabouts == ("RACK-9",)


def test_as_of_a_past_moment_the_floor_is_as_it_was_known_then(cell: Cell) -> None:
    cell.cleaned("A")
    cell.move("A", to="RACK-1")
    then_us = cell.clock.at_us + 1
    cell.book("hold", "A", reason="lot in doubt")
    cell.move("A", to="RACK-2")
    cell.first("A")
    cell.shut()

    was = cell.standing("A", then_us)
    assert was is not None
    assert (was.hold, was.whereabouts, was.priority) == (None, ("RACK-1",), 0)
    assert cell.sheet(then_us).shut == ()
    assert [one.code for one in cell.sheet().shut] == ["FB-1"]


def test_what_was_learned_later_does_not_count_in_the_past(cell: Cell) -> None:
    cell.book("create", "A")
    began_us = cell.clock.at_us + 10
    cell.wait(3)
    before_us = cell.clock.at_us
    cell.book("begin", "A", step=10, at_us=began_us)

    was = cell.standing("A", before_us)
    assert was is not None
    assert not was.in_work
    assert cell.here("A").in_work


def test_parts_in_one_furnace_at_once_are_one_load(cell: Cell) -> None:
    cell.cleaned("A", "B", "C")
    for serial, station in (("A", "FB-1"), ("B", "FB-1"), ("C", "FB-2")):
        cell.book("begin", serial, step=20, station=station)

    loads = cell.sheet().loads

    assert sorted(load.serials for load in loads) == [("A", "B"), ("C",)]
    cell.book("end", "A", step=20, outcome="pass")
    # The load keeps the hour at which its first part went in, though that one is out.
    first = next(load for load in cell.sheet().loads if load.station == "FB-1")
    assert first.begin_us == min(load.begin_us for load in loads)


def test_the_parts_of_every_product_are_counted(cell: Cell) -> None:
    cell.cleaned("A", "B")

    assert [(one.code, one.parts) for one in cell.sheet().products] == [("OAR", 2)]


def test_an_unknown_product_is_missing(one_cell: Cell) -> None:
    with one_cell.ledger.read(CODE) as read, pytest.raises(Missing):
        read_floor(read, "NONE")


@contextmanager
def counted(cell: Cell) -> Iterator[list[str]]:
    statements: list[str] = []

    def note(*arguments: object) -> None:
        statements.append(str(arguments[2]))

    event.listen(cell.ledger.store.engine, "before_cursor_execute", note)
    yield statements
    event.remove(cell.ledger.store.engine, "before_cursor_execute", note)


def test_many_parts_ask_the_store_as_much_as_one(one_cell: Cell) -> None:
    one_cell.cleaned("A")
    with counted(one_cell) as few:
        one_cell.sheet()
    one_cell.cleaned(*(f"P-{number}" for number in range(20)))
    one_cell.move(*(f"P-{number}" for number in range(20)), to="TUB-1")
    with counted(one_cell) as many:
        one_cell.sheet()

    assert len(many) == len(few)


def test_the_past_is_never_read_through_to_know_the_present(one_cell: Cell) -> None:
    """SQLite says how it would look: no whole table, and visits by who has not left yet."""
    with counted(one_cell) as asked:
        one_cell.sheet()
    visits = [text for text in asked if "FROM visit" in text and "visit.begin_us <" in text]

    assert visits
    with one_cell.ledger.store.read() as connection:
        for text in visits:
            blanks = tuple(1 for _ in range(text.count("?")))
            plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {text}", blanks).all()
            assert not any(str(row[3]).startswith("SCAN visit") for row in plan), plan

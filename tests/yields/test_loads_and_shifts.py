"""Loads read off visits, in hand and in SQL; shifts of a span, cut so that none overlap."""

from __future__ import annotations

import random
from dataclasses import dataclass

import pytest
from sqlalchemy import BigInteger, Integer, Text, column, select, text

from ringwright.core.calendar import parse_instant, shift_at, shifts_between
from ringwright.core.errors import Refused
from ringwright.flow.loads import load_code, loads_of, parse_load, with_loads
from ringwright.sites.site import Calendar, Shift
from tests.make.floor import Floor

MINUTE_US = 60_000_000


@dataclass(frozen=True)
class Stay:
    serial: str
    step: int | None
    station: str
    begin_us: int
    end_us: int
    run: str = ""


def test_parts_in_work_together_are_one_load_and_the_next_begins_at_the_last_end() -> None:
    visits = [
        Stay("A", 70, "F1", 0, 50), Stay("B", 70, "F1", 10, 90),
        Stay("C", 70, "F1", 80, 100), Stay("D", 70, "F1", 100, 120),
        Stay("E", 70, "F2", 0, 50), Stay("F", 50, "F1", 0, 50), Stay("G", None, "", 0, 0),
    ]  # fmt: skip

    found = [(load.step, load.station, load.serials) for load in loads_of(visits)]

    assert found == [
        (50, "F1", ("F",)), (70, "F1", ("A", "B", "C")), (70, "F1", ("D",)), (70, "F2", ("E",)),
    ]  # fmt: skip


def test_without_a_station_a_load_began_in_one_instant() -> None:
    visits = [Stay("A", 7, "", 0, 90), Stay("B", 7, "", 0, 90), Stay("C", 7, "", 10, 20)]

    assert [load.serials for load in loads_of(visits)] == [("A", "B"), ("C",)]


def test_a_furnace_run_is_one_load_though_the_next_began_before_its_review() -> None:
    visits = [
        Stay("A", 70, "F1", 0, 90, "F1-0001"), Stay("B", 70, "F1", 0, 60, "F1-0001"),
        Stay("C", 70, "F1", 50, 200, "F1-0002"), Stay("D", 70, "F1", 100, 120),
    ]  # fmt: skip

    assert [load.serials for load in loads_of(visits)] == [("B", "A"), ("C",), ("D",)]


@pytest.mark.parametrize("seed", range(4))
def test_sql_and_rows_in_hand_give_the_same_loads(floor: Floor, seed: int) -> None:
    dice = random.Random(f"loads {seed}")
    visits = []
    for number in range(120):
        begin = dice.randrange(0, 400, 5)
        stay = dice.choice((0, 5, 10, 30))
        station = dice.choice(("F1", "F2", ""))
        run = dice.choice(("", "R1", "R2"))
        begin = {"R1": 100, "R2": 110}.get(run, begin)
        step = dice.choice((50, 70))
        visits.append(Stay(f"P{number:03}", step, station, begin, begin + stay, run))
    rows = " UNION ALL ".join(
        f"SELECT '{v.serial}' AS serial, {v.step} AS step, '{v.station}' AS station,"
        f" '{v.run}' AS run, {v.begin_us} AS begin_us, {v.end_us} AS end_us" for v in visits
    )  # fmt: skip
    columns = (column("serial", Text), column("step", Integer), column("station", Text),
               column("run", Text), column("begin_us", BigInteger),
               column("end_us", BigInteger))  # fmt: skip
    query = select(*columns).select_from(text(f"({rows}) AS v"))

    with floor.ledger.store.read() as connection:
        found = {row.serial: row.load_begin_us for row in connection.execute(
            select(with_loads(query)))}  # fmt: skip

    wanted = {serial: load.begin_us for load in loads_of(visits) for serial in load.serials}
    assert found == wanted
    assert len({load.begin_us for load in loads_of(visits)}) > 3


def test_a_load_is_named_in_an_address_and_found_again() -> None:
    at_us = parse_instant("2026-11-25T14:20:00+01:00")
    code = load_code("INF-1", at_us, "Europe/Oslo")

    assert code == "INF-1@2026-11-25T14:20:00+01:00"
    assert parse_load(code, "Europe/Oslo") == ("INF-1", at_us)
    assert parse_load(code.replace("+", " "), "Europe/Oslo") == ("INF-1", at_us)
    for wrong in ("INF-1", "INF-1@", "INF-1@soon"):
        with pytest.raises(Refused):
            parse_load(wrong, "Europe/Oslo")


def test_every_instant_of_a_span_has_the_shift_that_works_then_across_both_clock_changes() -> (
    None
):
    week = tuple(range(7))
    shifts = (
        Shift(days=week, start="06:00", end="14:00", name="early"),
        Shift(days=week, start="13:30", end="22:00", name="late"),
        Shift(days=week, start="22:00", end="06:00", name="night"),
    )
    calendars = (Calendar(code="c", shifts=shifts, closed=("2026-10-23",)),)
    zone = "Europe/Oslo"
    for first, last in (("2026-03-27T00:00", "2026-03-31T00:00"),
                        ("2026-10-23T00:00", "2026-10-27T00:00")):  # fmt: skip
        start_us, end_us = parse_instant(first, zone), parse_instant(last, zone)
        spans = shifts_between(calendars, start_us, end_us, zone)
        for us in range(start_us, end_us, 5 * MINUTE_US):
            there = [name for begin, finish, name in spans if begin <= us < finish]
            worked = shift_at(calendars, us, zone)
            assert there == ([worked[2]] if worked else [])
    # The night of the change back lasts nine hours (central European time).
    change = parse_instant("2026-10-25T01:00:00Z")
    night = next((b, e) for b, e, name in spans if b <= change < e)
    assert night[1] - night[0] == 9 * 60 * MINUTE_US

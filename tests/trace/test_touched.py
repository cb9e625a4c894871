"""Every suspect leads to the parts it touched, and to where each is now."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import event

from ringwright.bench.acts import EnterReadings, Stop
from ringwright.bench.genealogy import Join, Remark
from ringwright.core.errors import Missing, Refused
from ringwright.core.instants import parse_instant
from ringwright.trace.touched import HERE, SCRAPPED, SENT, USED
from tests.trace.works import MAKER, Works, line, plate


def test_a_station_leads_to_every_part_that_was_there_and_to_where_each_is(
    works: Works,
) -> None:
    touched = works.touched(station="INF-1")

    fates = {part.serial: part.fate for part in touched.parts}
    assert fates == {"A-1": SENT, "A-2": SCRAPPED, "A-3": HERE, "A-4": HERE, "A-6": HERE}
    assert [part.standing.step for part in touched.parts] == [None, None, None, 30, 30]


def test_a_window_keeps_what_overlaps_it_and_no_more(works: Works) -> None:
    def at(since: str, until: str = "") -> tuple[str, ...]:
        return works.touched(station="INF-1", since=since, until=until).serials

    assert at("2026-09-22T00:00", "2026-09-23T00:00") == ("A-3",)
    assert at("2026-09-22T10:59") == ("A-3", "A-4", "A-6")  # in the furnace at that moment
    assert at("2026-09-22T11:00") == ("A-4", "A-6")  # out of it: the end is not inside
    assert at("2026-09-22T09:30", "2026-09-22T10:00") == ("A-3",)  # before, in and after it
    assert at("2026-09-22T07:00", "2026-09-22T09:00") == ()


def test_a_part_in_the_furnace_now_is_touched_by_any_window_since_it_went_in(
    works: Works,
) -> None:
    works.load(
        line("09-30T06:00", "A-7", "create")
        + line("09-30T09:00", "A-7", "begin", step=20, station="INF-1")
    )
    assert works.touched(station="INF-1", since="2026-10-01T00:00").serials == ("A-7",)


def test_a_lot_leads_to_parts_created_from_it_and_to_visits_that_used_it(works: Works) -> None:
    works.load(
        line("09-25T06:00", "A-8", "create")
        + line("09-25T07:00", "A-8", "begin", step=10, lot="L-1")
    )
    assert works.touched(lot="L-1").serials == ("A-1", "A-2", "A-5", "A-8")
    assert works.touched(lot="L-9").serials == ()


def test_a_run_is_the_load_that_went_in_together(works: Works) -> None:
    works.load(
        line("09-23T06:00", "A-9", "create")
        + line("09-23T09:30", "A-9", "begin", step=20, station="INF-1")
        + line("09-23T12:00", "A-9", "end", step=20, outcome="pass")
        + line("09-23T06:00", "A-10", "create")
        + line("09-23T12:00", "A-10", "begin", step=20, station="INF-1")
    )
    run = works.touched(run="INF-1@2026-09-23T09:00:00+02:00")
    assert run.serials == ("A-4", "A-9")  # A-10 began when the last of them came out


def test_a_gauge_a_person_and_a_step_lead_to_what_they_touched(works: Works) -> None:
    works.load(line("09-24T12:00", "A-6", "begin", step=30, by="in-1"))
    works.do(EnterReadings(serial="A-6", key="r", readings={"wall": 1.5}, gauge="UT-3"), MAKER)
    assert works.touched(gauge="UT-3").serials == ("A-6",)
    assert works.touched(person="in-1").serials == ("A-1", "A-2", "A-3", "A-6")
    assert works.touched(step="PLATE/20", since="2026-09-23T00:00").serials == (
        "A-4", "A-5", "A-6",
    )  # fmt: skip


def test_whoever_only_ended_a_visit_touched_the_part_too(works: Works) -> None:
    works.load(
        line("09-24T12:00", "A-6", "begin", step=30, by="in-1")
        + line("09-24T13:00", "A-6", "end", step=30, outcome="pass", by="in-9")
    )
    assert works.touched(person="in-9").serials == ("A-6",)
    assert works.touched(person="in-9", until="2026-09-24T13:00").serials == ()


def test_a_defect_leads_to_stops_and_to_visits_that_ended_with_it(works: Works) -> None:
    works.do(Stop(serial="A-4", key="s", defect="thin wall"), MAKER)
    assert works.touched(defect="thin wall").serials == ("A-2", "A-4")


def test_what_is_made_from_a_touched_part_is_touched_too(works: Works) -> None:
    works.do(Join(serial="A-5", key="j", members=("A-4",)), MAKER)
    touched = works.touched(station="INF-1")

    made = {part.serial: part.made_from for part in touched.parts if part.made_from}
    fates = {part.serial: part.fate for part in touched.parts}
    assert made == {"A-5": "A-4"}
    assert fates["A-4"] == USED


def test_a_part_is_asked_by_any_mark_it_ever_bore(works: Works) -> None:
    works.do(Remark(serial="A-3", key="m", mark="X-3", scanned="X-3"), MAKER)
    assert works.touched(part="X-3").serials == works.touched(part="A-3").serials == ("A-3",)
    with pytest.raises(Missing):
        works.touched(part="A-33")


def test_as_of_a_past_moment_only_what_was_known_counts(works: Works) -> None:
    at_us = parse_instant("2026-09-22T10:00:00+02:00")
    touched = works.touched(at_us, station="INF-1")

    assert [(p.serial, p.standing.place) for p in touched.parts] == [
        ("A-1", "sent"), ("A-2", "scrapped"), ("A-3", "in work"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        ({"lot": "L-1", "station": "INF-1"}, "one thing at a time"),
        ({"run": "INF-1@noon"}, "names no load"),
        ({"step": "PLATE"}, "PRODUCT/NUMBER"),
        ({"station": "INF-1", "since": "Monday"}, "from: "),
        (
            {"station": "INF-1", "since": "2026-09-22T10:00", "until": "2026-09-22T10:00"},
            "ends",
        ),
    ],
)
def test_an_unreadable_question_is_refused_in_words(
    sqlite_works: Works, asked: dict[str, str], why: str
) -> None:
    with pytest.raises(Refused, match=why):
        sqlite_works.touched(**asked)


def test_only_what_was_touched_is_read(sqlite_works: Works) -> None:
    """Every statement is answered by an index: none walks through a whole table."""
    sqlite_works.load("".join(plate(f"B-{n}", "09-25", "INF-2") for n in range(30)))
    questions: tuple[dict[str, str], ...] = (
        {"station": "INF-1", "since": "2026-09-22T00:00"}, {"lot": "L-1"}, {"gauge": "UT-3"},
        {"person": "in-1"}, {"defect": "thin wall"}, {"part": "A-1"},
        {"step": "PLATE/20"}, {"run": "INF-1@2026-09-23T09:00:00+02:00"},
    )  # fmt: skip
    asked: list[tuple[str, Any]] = []
    engine = sqlite_works.ledger.store.engine
    event.listen(
        engine,
        "before_cursor_execute",
        lambda _c, _k, sql, given, *_: asked.append((sql, given)),
    )
    for one in questions:
        sqlite_works.touched(**one)
    selects = [(sql, given) for sql, given in asked if sql.startswith(("SELECT", "WITH"))]
    with engine.connect() as connection:
        plans = [
            row[3]
            for sql, given in selects
            for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {sql}", given)
        ]
    big = (
        "visit", "life", "reading", "nonconformity", "part_now", "part_mark", "condition",
        "own", "other", "link",
    )  # fmt: skip
    walked = [
        plan
        for plan in plans
        if plan.split()[:1] in (["SCAN"], ["SEARCH"])
        and plan.split()[1] in big
        and (plan.startswith("SCAN") or "(site_id=?)" in plan)
    ]
    assert len(selects) > 20
    assert walked == []

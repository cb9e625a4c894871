"""The route line and what is said beside it, from parts made by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from typing import Any

from ringwright.floor.board import answer, make_board, wall_name
from ringwright.floor.line import BREAK, DESK, WALL, LineDrawing, draw_line, held_runs
from ringwright.floor.marks import marks_of
from ringwright.floor.model import FloorSheet, FloorStep, ProductCount, Shut, Standing
from ringwright.floor.troubles import LATE, OVER, SHUT, SOON, find_troubles
from ringwright.floor.turned import LINE_X, draw_turned
from ringwright.flow.loads import Load
from ringwright.kit.numbers import Figures
from ringwright.kit.words import words_of
from ringwright.parts.windows import PartWindow
from ringwright.sites.site import Station
from tests.floor.cell import HOUR_US, part

WORDS, SHOW = words_of("en"), Figures("en")
NOW_US = 1_790_000_000_000_000
STEPS = tuple(
    FloorStep(number=n, name=name, kind=kind, station_group=group, planned_hours=4.0)
    for n, name, kind, group in (
        (10, "Clean", "cleaning", "clean"),
        (20, "Bond", "heat-cycle", "furnace"),
        (30, "Look", "inspection", "bench"),
    )
)
STATIONS = tuple(Station(code=code, name=code, group="furnace") for code in ("FB-1", "FB-2"))


def sheet(*parts: Standing, **given: Any) -> FloorSheet:
    made = FloorSheet(
        site="S", site_name="Skarvik", zone="Europe/Oslo", now_us=NOW_US, as_of=False,
        head_seq=9, head_hash="0" * 64, last_entry_us=NOW_US,
        products=(ProductCount(code="OAR", name="Oar", family="fan-blade", parts=len(parts)),),
        product="OAR", steps=STEPS, parts=parts, shut=(), stations=STATIONS, loads=(),
        names={("OAR", step.number): step.name for step in STEPS},
    )  # fmt: skip
    return replace(made, **given)


def aged(serial: str, hours: float, **given: Any) -> Standing:
    age_us = int(hours * HOUR_US)
    return part(serial, age_us=age_us, since_us=NOW_US - age_us, **given)


def drawn(*parts: Standing, **given: Any) -> LineDrawing:
    return draw_line(marks_of(sheet(*parts, **given)), {})


def shut(subject: str = "station:FB-1", reason: str = "Survey failed") -> Shut:
    kind, _, code = subject.partition(":")
    return Shut(
        subject=subject, kind=kind, code=code, reason=reason, opener="supervisor",
        since_us=NOW_US - HOUR_US, by="sup-1",
    )  # fmt: skip


def window(hours_left: float) -> PartWindow:
    deadline_us = NOW_US + int(hours_left * HOUR_US)
    return PartWindow(
        before=20, after=10, began_us=deadline_us - 3 * HOUR_US, deadline_us=deadline_us,
        left_us=deadline_us - NOW_US,
    )  # fmt: skip


def said(*parts: Standing, short: bool = False, **given: Any) -> str:
    pieces = answer(sheet(*parts, **given), WORDS, SHOW, short=short)
    return "".join(piece.text for piece in pieces)


def tops(path: str) -> list[float]:
    return [float(y) for y in re.findall(r"V([\d.]+)H", path)]


def test_a_bar_stands_as_tall_as_its_time_over_plan() -> None:
    line = drawn(aged("A", 1.0), aged("B", 0.5))

    assert tops(line.waiting) == [DESK.base - DESK.up / 2, round(DESK.base - DESK.up / 4, 1)]


def test_a_late_bar_is_open_to_plan_and_pointed_above_it() -> None:
    line = drawn(aged("A", 4.0))

    assert tops(line.waiting) == [line.plan_y]
    assert f"{line.twice_y:.1f}" in line.late


def test_far_past_plan_a_bar_is_broken_off() -> None:
    line, taller = drawn(aged("A", 2 * BREAK + 1)), drawn(aged("A", 500.0))

    assert line.late == taller.late
    assert line.late.count("M") == 2
    assert min(map(float, re.findall(r" ([\d.]+)(?=L)", line.late))) >= DESK.room


def test_work_hangs_and_waiting_stands() -> None:
    line = drawn(aged("A", 1.0), aged("B", 1.0, in_work=True))

    assert all(y < DESK.base for y in tops(line.waiting))
    assert all(y > DESK.base for y in tops(line.working))


def test_the_oldest_stands_first_and_running_windows_stand_behind_under_their_hour() -> None:
    cells = marks_of(
        sheet(
            aged("A", 0.2, window=window(2.5)), aged("B", 0.2, window=window(2.6)),
            aged("C", 0.4), aged("D", 1.0),
        )
    ).cells  # fmt: skip
    cell = cells[1]

    assert [round(mark.ratio, 1) for mark in cell.waiting] == [0.5, 0.2, 0.1, 0.1]
    assert [(one.first, one.last, one.parts) for one in cell.windows] == [(2, 3, 2)]


def test_a_part_whose_window_is_over_rises_late_whatever_its_plan() -> None:
    (mark,) = marks_of(sheet(aged("A", 0.1, window=window(-1.5)))).cells[1].waiting

    assert (mark.late, mark.ratio) == (True, 1.5)


def test_above_four_hundred_a_mark_is_ten_and_the_figures_count_each() -> None:
    parts = [
        aged(f"P{n}", 1.0, step=(10, 20, 30)[n % 3], in_work=n % 2 == 0) for n in range(450)
    ]
    board = make_board(sheet(*parts), WORDS, SHOW)

    assert board.every == 10
    assert sum(row.parts for row in board.counts) == 450
    assert sum(mark.parts for cell in marks_of(sheet(*parts)).cells
               for mark in (*cell.waiting, *cell.working)) == 450  # fmt: skip


def test_forty_parts_are_forty_marks() -> None:
    marks = marks_of(sheet(*(aged(f"P{n}", 1.0) for n in range(40))))

    assert (marks.every, len(marks.cells[1].waiting)) == (1, 40)


def test_neighbours_on_hold_share_a_tie() -> None:
    parts = [
        aged(f"P{n}", 2.0 - n / 10, hold="x" if n in (0, 1, 3) else None) for n in range(5)
    ]
    cell = marks_of(sheet(*parts)).cells[1]

    assert held_runs(cell.waiting) == [(0, 1), (3, 3)]
    assert len(drawn(*parts).cells[1].ties) == 2


def test_every_mark_stays_within_its_steps_stretch() -> None:
    parts = [aged(f"P{n}", 1.0, in_work=n > 40) for n in range(140)]
    line = drawn(*parts)
    cell = line.cells[1]
    xs = [float(x) for x in re.findall(r"[MH]([\d.]+)", line.waiting + line.working)]

    assert cell.x <= min(xs)
    assert max(xs) <= cell.x + cell.width


def test_a_load_has_a_bracket_over_those_still_in_work() -> None:
    load = Load(step=20, station="FB-1", begin_us=NOW_US - HOUR_US, end_us=2**62,
                serials=("A", "B", "gone"))  # fmt: skip
    parts = [aged(s, 1.0, in_work=True, station="FB-1") for s in ("A", "B")]
    board = make_board(sheet(*parts, loads=(load,)), WORDS, SHOW)
    (bracket,) = marks_of(board.sheet).cells[1].loads

    assert (bracket.first, bracket.last, bracket.parts) == (0, 1, 2)
    assert [label.text for label in board.labels] == ["FB-1"]
    assert board.labels[0].under.startswith("out ")


def test_the_line_is_cut_where_something_is_shut() -> None:
    board = make_board(sheet(aged("A", 1.0), shut=(shut(), shut("step:OAR/30"))), WORDS, SHOW)
    cuts = {cell.step: [cut.text for cut in cell.cuts] for cell in board.line.cells}

    assert cuts == {10: [], 20: ["FB-1"], 30: ["30"]}
    whole, part_of = board.line.cells[2].cuts[0], board.line.cells[1].cuts[0]
    assert whole.x2 - whole.x1 > 2 * (part_of.x2 - part_of.x1)


def test_the_answer_says_how_many_are_late_and_held_and_what_is_shut() -> None:
    parts = [aged("A", 4.0), aged("B", 4.0, hold="x"), aged("C", 0.1)]

    assert said(*parts, shut=(shut(),)) == (
        "Of 3 blades on the route 2 are late and 1 held; FB-1 is shut."
    )
    assert said(*parts, short=True) == "3 blades: 2 late, 1 held"
    assert said(parts[2]) == "Of 1 blade on the route none is late or held."


def test_the_answer_keeps_to_ninety_letters() -> None:
    many = tuple(shut(f"lot:A-VERY-LONG-LOT-CODE-{n}") for n in range(6))
    parts = [aged(f"P{n}", 4.0, hold="x", lot=f"A-VERY-LONG-LOT-CODE-{n}") for n in range(6)]

    assert said(*parts, shut=many).endswith("; 6 things are shut.")
    assert len(said(*parts, shut=many)) <= 90


def test_what_is_shut_elsewhere_is_not_said_of_this_product() -> None:
    assert "shut" not in said(aged("A", 0.1), shut=(shut("step:CASE/20"),))


def test_an_empty_floor_says_what_is_missing() -> None:
    assert said() == "No part of Oar stands on the route."
    assert said(ever=False) == "No part has been created yet."
    assert "add one on Ground rules" in said(products=(), product="", steps=())


def test_troubles_are_ranked_by_parts_and_numbered_as_on_the_picture() -> None:
    parts = [aged(f"L{n}", 4.0) for n in range(3)] + [aged("H", 0.1, hold="doubt", step=30)]
    board = make_board(sheet(*parts, shut=(shut(),)), WORDS, SHOW)

    assert [(t.rank, t.kind, t.parts) for t in board.troubles] == [
        (1, SHUT, 3), (2, LATE, 3), (3, "held", 1),
    ]  # fmt: skip
    assert {b.rank for b in board.balloons} == {1, 2, 3}


def test_a_window_that_runs_out_has_a_place_however_few_it_concerns() -> None:
    crowd = [aged(f"L{n}{s}", 9.0, step=s, hold="x") for n in range(3) for s in (10, 20, 30)]
    troubles = find_troubles(sheet(*crowd, aged("W", 0.1, window=window(1.0))), WORDS, SHOW)

    assert len(troubles) == 5
    assert troubles[-1].kind == SOON
    assert "clean until" in troubles[-1].cause


def test_a_window_that_is_over_says_where_the_parts_go_back_to() -> None:
    (trouble,) = find_troubles(sheet(aged("W", 0.1, window=window(-0.5))), WORDS, SHOW)

    assert (trouble.kind, trouble.cause) == (OVER, "1 part's clean time is over")
    assert "They go back to step 10, or are held for the design authority." in trouble.why


def test_a_shut_station_says_how_many_such_stations_are_left() -> None:
    (trouble,) = find_troubles(sheet(aged("A", 0.1), shut=(shut(),)), WORDS, SHOW)

    assert trouble.why == "Survey failed. 1 of 2 such stations open."


def test_nothing_wrong_is_no_trouble() -> None:
    assert find_troubles(sheet(aged("A", 0.1)), WORDS, SHOW) == ()


def test_balloons_of_one_step_do_not_cover_each_other() -> None:
    parts = [aged(f"P{n}", 4.0, hold="x") for n in range(4)]
    board = make_board(sheet(*parts, shut=(shut(),)), WORDS, SHOW)
    heights = sorted(b.y for b in board.balloons)

    assert len(heights) == 3
    assert all(b - a >= 2 * DESK.radius for a, b in pairwise(heights))


def test_the_wall_shows_three_troubles_and_no_small_words() -> None:
    parts = [aged(f"L{n}{s}", 9.0, step=s, hold="x") for n in range(3) for s in (10, 20, 30)]
    board = make_board(sheet(*parts), WORDS, SHOW, wall=True)

    assert (len(board.troubles), board.line.manner, board.labels) == (3, WALL, ())


def ends(path: str) -> list[float]:
    return [float(x) for x in re.findall(r"H([\d.]+)V", path)]


def test_turned_the_waiting_lie_right_of_the_line_and_the_work_left() -> None:
    row = draw_turned(marks_of(sheet(aged("A", 1.0), aged("B", 9.0, in_work=True))), {})[1]
    assert all(x > LINE_X for x in ends(row.waiting))
    assert all(x < LINE_X for x in ends(row.working))


def test_a_long_step_name_may_break_within_its_word() -> None:
    assert wall_name("Ultrasonic bond check") == "Ultra\u00adsonic bond check"

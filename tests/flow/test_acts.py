"""What is to be acted on: ranked by parts of the promise at stake, worked by hand; in words."""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.flow.act_words import Trouble, told_acts
from ringwright.flow.acts import (
    GAUGE,
    HELD,
    MOST_ACTS,
    OVER,
    PAPER,
    SHORT,
    STARVED,
    WINDOW,
    Act,
    ActFacts,
    Lapsing,
    ShortSet,
    Starved,
    rank_acts,
)
from ringwright.kit.numbers import Figures
from ringwright.kit.words import words_of
from tests.make import week as make

HOUR = make.HOUR_US
BLADE, CASE = "HF22-BLADE", "CASE"


def ranked(**given: Any) -> tuple[Act, ...]:
    usual: dict[str, Any] = {
        "now_us": make.NOW_US,
        "targets": {BLADE: 66.0, CASE: 3.0},
        "to_go": {BLADE: 33.0, CASE: 2.0},
    }
    return rank_acts(ActFacts(**{**usual, **given}))


def held(n: int, **given: Any) -> list[Any]:
    return [
        make.part(f"H-{k}", held="why", held_since_us=make.NOW_US - (k + 1) * HOUR, **given)
        for k in range(n)
    ]


def over(n: int, **given: Any) -> list[Any]:
    return [
        make.part(f"O-{k}", excess_us=(k + 1) * HOUR, excess_worked_us=HOUR // 2, **given)
        for k in range(n)
    ]


def test_the_share_of_the_promise_ranks_and_never_more_than_is_owed_counts() -> None:
    found = ranked(parts=[*held(4), *held(3, product=CASE, step=50), *over(6, step=10)])

    assert [(act.kind, act.product, act.parts) for act in found] == [
        (HELD, CASE, 2.0),  # three held, but two are still owed: 2 of 3
        (OVER, BLADE, 6.0),
        (HELD, BLADE, 4.0),
    ]
    assert [round(act.share, 4) for act in found] == [0.6667, 0.0909, 0.0606]
    assert [act.rank for act in found] == [1, 2, 3]


def test_a_window_over_within_two_hours_stands_first_a_held_parts_too() -> None:
    now = make.NOW_US
    soon = make.part("W-1", deadline_us=now + 2 * HOUR)
    later = make.part("W-2", step=30, deadline_us=now + 2 * HOUR + 1)
    ran_out = make.part("W-3", deadline_us=now - 1)
    cannot = make.part("W-4", deadline_us=now + HOUR, held="question", held_since_us=now - HOUR)
    found = ranked(parts=[soon, later, ran_out, cannot, *over(9, step=10)])

    assert [(act.kind, act.step, act.urgent) for act in found] == [
        (WINDOW, 20, True),
        (OVER, 10, False),
        (WINDOW, 30, False),
        (HELD, 20, False),
    ]
    assert found[0].worst == cannot, "its hold stops no window, and it is over first"
    assert found[0].parts == 2.0


def test_at_most_two_of_a_kind_and_seven_in_all() -> None:
    parts = [
        one for step in range(10, 90, 10) for one in (*held(3, step=step), *over(2, step=step))
    ]
    lapsing = [
        Lapsing(kind=kind, code=f"{kind}{n}", what="cmm", day="2026-10-03", left_days=n)
        for kind in (GAUGE, PAPER)
        for n in range(3)
    ]
    found = ranked(
        parts=parts, lapsing=lapsing, short=[ShortSet(product=BLADE, free=19, size=20)]
    )

    kinds = [act.kind for act in found]
    assert len(found) == MOST_ACTS
    assert {kind: kinds.count(kind) for kind in kinds} == {
        HELD: 2, OVER: 2, SHORT: 1, GAUGE: 1, PAPER: 1,
    }  # fmt: skip
    assert [act.lapsing.left_days for act in found if act.lapsing] == [0, 0]


def test_an_empty_group_costs_what_it_could_have_begun() -> None:
    one = Starved(
        group="furnace", stations=2, product=BLADE, step=20, since_us=make.NOW_US - 9 * HOUR,
        idle_h=6.0, planned_h=4.0, feeds_step=10, feeds=12,
    )  # fmt: skip

    assert [(act.kind, act.parts) for act in ranked(starved=[one])] == [(STARVED, 3.0)]


def test_the_excess_of_all_parts_is_summed_by_the_clock_and_worked() -> None:
    (act,) = ranked(parts=over(3))

    assert (act.excess_h, act.excess_worked_h) == (6.0, 1.5)
    assert act.worst is not None
    assert act.worst.serial == "O-2"


def test_nothing_to_act_on_is_nothing() -> None:
    assert ranked(parts=[make.part()]) == ()


def told(*acts: Act, **given: Any) -> tuple[Trouble, ...]:
    sheet = make.sheet(make.strip(), acts=acts, **given)
    return told_acts(sheet, words_of("en"), Figures("en"))


@pytest.mark.parametrize(
    ("given", "cause", "figure", "route"),
    [
        (
            {"kind": HELD, "worst": make.part(held="why", held_since_us=make.NOW_US - HOUR)},
            "20 Inflate: 2 held", "2 parts of the 66 promised, Fan blades", "floor.parts",
        ),
        (
            {"kind": WINDOW, "worst": make.part(deadline_us=make.NOW_US + HOUR)},
            "20 Inflate: 2 must begin by 04:10", "2 parts of the 66 promised, Fan blades",
            "bench.page",
        ),
        (
            {"kind": SHORT, "step": None, "short": ShortSet(product=BLADE, free=19, size=20)},
            "Fan blades: one blade short of a set", "2 parts of the 66 promised, Fan blades",
            "sets.builder",
        ),
        (
            {"kind": GAUGE, "step": None, "product": "", "parts": 0.0, "lapsing": Lapsing(
                kind=GAUGE, code="CMM-1", what="cmm", day="2026-10-03", left_days=2)},
            "Gauge CMM-1 is due on Sat 3 Oct", "No part of this week waits for it yet.",
            "gauges.one",
        ),
    ],
)  # fmt: skip
def test_each_kind_says_what_it_costs_and_where_to_act(
    given: dict[str, Any], cause: str, figure: str, route: str
) -> None:
    act = Act(**{"product": BLADE, "step": 20, "parts": 2.0, "rank": 1, **given})
    (one,) = told(act)

    assert (one.cause, one.figure, one.route) == (cause, figure, route)
    assert (one.raises is not None) is (act.kind == WINDOW)
    assert told(act, now_us=make.END_US) == ()
    assert told(act, as_of=True)[0].raises is None

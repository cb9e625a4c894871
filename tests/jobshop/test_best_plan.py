"""The best plan of a job shop, against a published instance and against trying everything."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from ringwright.jobshop.shop import (
    Case,
    Lock,
    Machine,
    Operation,
    Shop,
    lateness,
    weighted_lateness,
)
from ringwright.jobshop.solve import best_plan
from ringwright.jobshop.timing import by_due, missed, timed, turns_of
from tests.jobshop.check import all_plans_best, wrong_with

FT06 = """
2 1  0 3  1 6  3 7  5 3  4 6
1 8  2 5  4 10 5 10 0 10 3 4
2 5  3 4  5 8  0 9  1 1  4 7
1 5  0 5  2 5  3 3  4 8  5 9
2 9  1 3  4 5  5 4  0 3  3 1
1 3  3 3  5 9  0 10 4 4  2 1
"""
"""Machine and time of each operation of six jobs. Source: H. Fisher and G. L. Thompson,
Probabilistic learning combinations of local job-shop scheduling rules, in J. F. Muth and
G. L. Thompson (eds), Industrial Scheduling, Prentice-Hall 1963, pages 225 to 251; as it stands
in J. E. Beasley's OR-Library (jobshop1.txt, instance ft06). The shortest makespan is 55."""


def ft06() -> Shop:
    cases = []
    for number, line in enumerate(FT06.strip().splitlines(), start=1):
        told = [int(word) for word in line.split()]
        operations = tuple(
            Operation(name=str(place), spindle=time, machines=(f"M{machine}",))
            for place, (machine, time) in enumerate(zip(told[::2], told[1::2], strict=True))
        )
        cases.append(Case(serial=f"J{number}", operations=operations))
    machines = tuple(Machine(code=f"M{number}") for number in range(6))
    return Shop(cases=tuple(cases), machines=machines)


def some_shop(seed: int, *, closed: bool, fixtures: bool) -> Shop:
    """Three cases of two operations on two machines, drawn from a seed."""
    die = Random(seed)
    spans = tuple((week * 9 + die.randrange(2), week * 9 + 5) for week in range(12))
    machines = tuple(
        Machine(code=code, open=spans if closed else (), set_for=die.choice(("", "P/0")))
        for code in ("A", "B")
    )
    cases = tuple(
        Case(
            serial=f"C{number}",
            release=die.randrange(4),
            due=die.randrange(4, 14),
            weight=die.choice((1, 1, 3)),
            operations=tuple(
                Operation(
                    name=str(place),
                    spindle=die.randrange(1, 6),
                    set_up=die.randrange(3),
                    machines=die.choice((("A",), ("B",), ("A", "B"))),
                    work=f"P/{die.randrange(2)}",
                    fixture=die.choice(("ring", "")) if fixtures else "",
                    after=die.randrange(3),
                )
                for place in range(2)
            ),
        )
        for number in range(3)
    )
    return Shop(cases=cases, machines=machines, fixtures={"ring": 1} if fixtures else {})


def test_the_six_by_six_of_fisher_and_thompson_takes_55_and_no_less() -> None:
    plan = best_plan(ft06(), effort=20)

    assert (plan.makespan, plan.proved) == (55, True)
    assert wrong_with(ft06(), plan) == []


@pytest.mark.parametrize("seed", range(12))
def test_no_order_of_a_small_shop_is_better_than_the_plan(seed: int) -> None:
    shop = some_shop(seed, closed=seed % 2 == 1, fixtures=seed % 3 == 2)

    plan = best_plan(shop)

    assert wrong_with(shop, plan) == []
    assert plan.proved
    assert (weighted_lateness(shop, plan), plan.makespan) == all_plans_best(shop)


@pytest.mark.parametrize("seed", range(100, 110))
def test_every_plan_keeps_machines_hours_fixtures_and_locks(seed: int) -> None:
    shop = some_shop(seed, closed=True, fixtures=True)
    rule = by_due(shop)
    held = rule.placements[-1]
    locked = replace(shop, locks={held.key: Lock(machine=held.machine, start=held.start)})

    assert wrong_with(shop, rule) == []
    plan = best_plan(locked)

    assert wrong_with(locked, plan) == []
    assert weighted_lateness(shop, plan) <= weighted_lateness(shop, rule)


def test_the_same_question_has_the_same_answer() -> None:
    shop = some_shop(7, closed=True, fixtures=True)

    assert best_plan(shop) == best_plan(shop)


def test_what_is_on_a_machine_is_finished_first_without_a_set_up() -> None:
    left = Operation(name="20", spindle=6, set_up=4, machines=("A",), on="A")
    new = Operation(name="20", spindle=2, set_up=1, machines=("A",))
    shop = Shop(
        cases=(
            Case(serial="OLD", operations=(left,), due=40),
            Case(serial="NEW", operations=(new,), due=3, weight=9),
        ),
        machines=(Machine(code="A"),),
    )

    plan = best_plan(shop)

    assert [(one.serial, one.start, one.end) for one in plan.placements] == [
        ("OLD", 0, 6),
        ("NEW", 6, 9),
    ]
    assert lateness(shop, plan) == {"NEW": 6}


def test_a_case_stays_on_over_the_weekend() -> None:
    week = Machine(code="A", open=((0, 5), (7, 12)))
    long = Operation(name="20", spindle=8, machines=("A",))
    shop = Shop(cases=(Case(serial="C", operations=(long,)),), machines=(week,))

    (one,) = best_plan(shop).placements

    assert (one.start, one.end) == (0, 10)


def test_the_hours_of_a_plan_follow_from_its_order() -> None:
    shop = some_shop(3, closed=True, fixtures=True)
    plan = best_plan(shop)

    again = timed(shop, turns_of(plan))

    assert again.placements == plan.placements
    assert missed(shop, again) == {}


def test_a_shop_without_work_has_an_empty_plan() -> None:
    assert best_plan(Shop(cases=(), machines=(Machine(code="A"),))).placements == ()

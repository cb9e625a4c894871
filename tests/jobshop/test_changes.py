"""Locks that cannot be kept, what made a case late, and what a change by hand does."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ringwright.jobshop.change import Change, effect_of
from ringwright.jobshop.locks import (
    CLOSED,
    NO_FIXTURE,
    NOT_THERE,
    TAKEN,
    WRONG_MACHINE,
    Impossible,
)
from ringwright.jobshop.reasons import BEHIND, FIXTURE, LOCKED, OWN, reasons
from ringwright.jobshop.reasons import CLOSED as CLOSED_HOURS
from ringwright.jobshop.shop import Case, Key, Lock, Machine, Operation, Shop
from ringwright.jobshop.solve import best_plan
from ringwright.jobshop.timing import timed, turns_of
from tests.jobshop.check import wrong_with


def turn(name: str, ticks: int, *machines: str, fixture: str = "", on: str = "") -> Operation:
    return Operation(name=name, spindle=ticks, machines=machines, fixture=fixture, on=on)


def shop_of(*cases: Case, opened: tuple[tuple[int, int], ...] = ()) -> Shop:
    machines = (Machine(code="VTL", open=opened), Machine(code="CML", open=opened))
    return Shop(cases=cases, machines=machines)


def case(serial: str, *operations: Operation, due: int | None = None, at: int = 0) -> Case:
    return Case(serial=serial, operations=operations, due=due, release=at)


TWO = shop_of(case("A", turn("20", 10, "VTL")), case("B", turn("20", 5, "VTL"), at=2))


@pytest.mark.parametrize(
    ("shop", "key", "lock", "why", "start"),
    [
        (TWO, ("B", "20"), Lock(machine="CML"), WRONG_MACHINE, None),
        (TWO, ("B", "20"), Lock(start=1), NOT_THERE, 2),
        (shop_of(case("A", turn("20", 4, "VTL")), opened=((0, 5), (8, 20))), ("A", "20"),
         Lock(start=7), CLOSED, 8),
        (shop_of(case("A", turn("20", 10, "VTL", on="VTL")), case("B", turn("20", 5, "VTL"))),
         ("B", "20"), Lock(start=7), TAKEN, 10),
        (replace(
            shop_of(
                case("A", turn("20", 10, "VTL", fixture="ring", on="VTL")),
                case("B", turn("20", 5, "CML", fixture="ring")),
            ),
            fixtures={"ring": 1},
        ), ("B", "20"), Lock(start=7), NO_FIXTURE, 10),
    ],
)  # fmt: skip
def test_a_lock_that_cannot_be_kept_is_named_with_the_nearest_start(
    shop: Shop, key: Key, lock: Lock, why: str, start: int | None
) -> None:
    with pytest.raises(Impossible) as found:
        best_plan(replace(shop, locks={key: lock}))

    (one,) = found.value.conflicts
    assert (one.key, one.why, one.start) == (key, why, start)


def test_of_two_locks_that_clash_only_one_has_to_move() -> None:
    locks = {("A", "20"): Lock(start=0), ("B", "20"): Lock(start=8)}

    with pytest.raises(Impossible) as found:
        best_plan(replace(TWO, locks=locks))

    assert [(one.key, one.start) for one in found.value.conflicts] == [(("B", "20"), 10)]


def test_lateness_is_told_by_what_the_case_waits_for() -> None:
    shop = shop_of(
        case("A", turn("20", 10, "VTL", on="VTL")), case("B", turn("20", 5, "VTL"), due=8)
    )

    (late,) = reasons(shop, best_plan(shop))

    assert (late.serial, late.ticks, late.alone, late.own, late.first) == ("B", 7, 5, 0, BEHIND)
    assert [(one.ticks, one.machine, one.behind) for one in late.waits] == [(10, "VTL", "A")]


def test_a_case_with_more_work_than_time_is_late_by_itself() -> None:
    shop = shop_of(case("A", turn("20", 10, "VTL"), turn("50", 10, "CML"), due=16))

    (late,) = reasons(shop, best_plan(shop))

    assert (late.ticks, late.own, late.first, late.waits) == (4, 4, OWN, ())


def test_closed_hours_a_fixture_and_a_lock_are_named_too() -> None:
    closed = shop_of(case("A", turn("20", 3, "VTL"), due=3, at=5), opened=((0, 5), (9, 30)))
    ring = replace(
        shop_of(
            case("A", turn("20", 9, "VTL", fixture="ring", on="VTL")),
            case("B", turn("20", 3, "CML", fixture="ring"), due=4),
        ),
        fixtures={"ring": 1},
    )
    held = replace(
        shop_of(case("A", turn("20", 3, "VTL"), due=4)), locks={("A", "20"): Lock(start=6)}
    )

    found = [reasons(shop, best_plan(shop))[0].waits[0] for shop in (closed, ring, held)]

    assert [(one.why, one.ticks) for one in found] == [
        (CLOSED_HOURS, 4),
        (FIXTURE, 9),
        (LOCKED, 6),
    ]
    assert (found[1].fixture, found[1].behind) == ("ring", "A")


def test_a_case_put_first_sends_the_other_later_and_the_third_stays() -> None:
    shop = shop_of(
        case("A", turn("20", 10, "VTL"), due=12),
        case("B", turn("20", 5, "VTL"), due=20),
        case("C", turn("20", 4, "CML")),
    )
    turns = turns_of(best_plan(shop))

    effect = effect_of(shop, turns, Change(key=("B", "20"), machine="VTL", start=0))

    assert [(one.serial, one.later, one.late) for one in effect.moved] == [
        ("A", 5, 3),
        ("B", -10, 0),
    ]
    assert effect.stay == ("C",)
    assert effect.missed == {}
    assert wrong_with(effect.shop, effect.after) == []


def test_a_change_to_a_time_when_the_machine_is_taken_says_how_far_it_slips() -> None:
    shop = shop_of(case("A", turn("20", 10, "VTL", on="VTL")), case("B", turn("20", 5, "VTL")))
    turns = turns_of(best_plan(shop))

    effect = effect_of(shop, turns, Change(key=("B", "20"), machine="VTL", start=4))

    assert effect.missed == {("B", "20"): 6}
    assert effect.after == timed(effect.shop, effect.turns)

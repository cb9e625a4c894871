"""The answers that a page works out at once, and exchanges by hand."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from ringwright.balance.answer import build
from ringwright.balance.limits import Limits
from ringwright.balance.pool import Blade, Pool
from ringwright.balance.uncertainty import Floor, uncertainty_of
from ringwright.balance.vectors import measure
from ringwright.balance.work import Work
from ringwright.core.errors import Refused
from ringwright.kit.cutoff import Snapshot
from ringwright.kit.numbers import Figures
from ringwright.kit.words import words_of
from ringwright.sets.answers import (
    SORTED,
    Answers,
    Kept,
    Question,
    answers_to,
    at_once,
    exchange,
)
from ringwright.sets.board import compare
from ringwright.sets.model import SetsSheet, Source
from ringwright.sets.rotor import Rotor


def pool(count: int, seed: int = 1, *, tones: bool = True) -> Pool:
    chance = random.Random(seed)
    return Pool(
        blades=tuple(
            Blade(
                serial=f"B-{n}",
                moment_g_mm=round(chance.gauss(120_000, 480), 1),
                frequency_hz=round(chance.gauss(60, 1), 2) if tones else None,
                moment_u_g_mm=2.0,
            )
            for n in range(1, count + 1)
        )
    )


def question(count: int = 20, slots: int = 20, **more: object) -> Question:
    limits = Limits(slots=slots, **more)  # type: ignore[arg-type]
    return Question(pool=pool(count), limits=limits)


def test_the_order_made_by_hand_is_always_among_the_answers() -> None:
    found = answers_to(question())

    assert [option.letter for option in found.options] == ["A", "B", "C"]
    assert found.options[-1].led == SORTED
    best = found.options[0].measured.residual_g_mm
    assert best < found.options[-1].measured.residual_g_mm


def test_every_answer_has_the_same_blades_and_keeps_the_rules_but_the_one_by_hand() -> None:
    found = answers_to(question(40, 20, opposite_g_mm=400.0, frequency_spread_hz=3.0))

    assert len({frozenset(option.order) for option in found.options}) == 1
    assert all(not option.broken for option in found.options[:-1])


def test_a_page_and_the_command_give_the_same_answer() -> None:
    asked = question(30, 20)

    page = answers_to(asked).options[0].order
    work = Work(clock=lambda: 0.0)

    assert page == build(asked.pool, asked.limits, work, sets=1).sets[0].places


def test_an_impossible_rule_is_told_with_the_smallest_value() -> None:
    found = answers_to(question(20, 20, opposite_g_mm=0.001))

    assert found.options == ()
    assert found.smallest is not None
    feasible = answers_to(question(20, 20, opposite_g_mm=found.smallest))
    assert feasible.options


def test_an_odd_ring_and_blades_without_frequencies_have_answers() -> None:
    bare = Question(pool=pool(19, tones=False), limits=Limits(slots=19))
    found = answers_to(bare)

    assert found.options[0].measured.opposite_max_g_mm is None
    assert found.options[0].measured.alternates is None
    assert found.options[-1].led == SORTED


def test_two_blades_make_a_ring() -> None:
    found = answers_to(Question(pool=pool(2), limits=Limits(slots=2)))

    assert found.options[0].measured.residual_g_mm > 0


def test_exchanging_two_slots_changes_the_vector_as_it_must() -> None:
    asked = question()
    option = answers_to(asked).options[0]

    found = exchange(asked, option, ("4-9",))

    assert found is not None
    order = list(option.order)
    order[3], order[8] = order[8], order[3]
    assert found.after.order == tuple(order)
    assert found.after.measured == measure(asked.pool, order)
    assert found.slots == {4, 9}


def test_exchanges_follow_one_another_and_the_same_twice_undoes_it() -> None:
    asked = question()
    option = answers_to(asked).options[0]

    found = exchange(asked, option, ("4-9", "4-9"))

    assert found is not None
    assert found.after.order == option.order
    assert found.slots == frozenset()


def test_a_free_blade_takes_a_slot_and_the_other_stays_behind() -> None:
    asked = question(24, 20)
    option = answers_to(asked).options[0]
    spare = next(b.serial for n, b in enumerate(asked.pool.blades) if n not in option.order)

    found = exchange(asked, option, (f"1-{spare}",))

    assert found is not None
    assert asked.pool.blades[found.after.order[0]].serial == spare
    assert len(set(found.after.order)) == 20


def test_an_exchange_that_breaks_a_rule_says_which() -> None:
    asked = question(20, 20, opposite_g_mm=300.0)
    option = answers_to(asked).options[0]
    heavy = max(range(20), key=lambda n: asked.pool.moment_g_mm[option.order[n]]) + 1
    light = min(range(20), key=lambda n: asked.pool.moment_g_mm[option.order[n]]) + 1

    found = exchange(asked, option, (f"{heavy}-{(light + 9) % 20 + 1}",))

    assert found is not None
    assert any("opposite difference" in told for told in found.after.broken)


@pytest.mark.parametrize("text", ["4", "0-3", "21-3", "x-3", "4-nothing", "4-"])
def test_an_exchange_of_nothing_is_refused(text: str) -> None:
    asked = question()
    option = answers_to(asked).options[0]

    with pytest.raises(Refused):
        exchange(asked, option, (text,))


def test_a_long_search_is_no_work_for_a_page() -> None:
    assert at_once(pool(60), 20, 3)
    assert not at_once(pool(60), 20, 4)
    assert not at_once(pool(60), 121, 3)


def test_an_answer_is_searched_for_once_and_again_when_the_question_changes() -> None:
    kept, asked, times = Kept(), question(), []

    def work(one: Question) -> Answers:
        times.append(one)
        return Answers()

    for one in (asked, question(), replace(asked, seed=2), replace(asked, floor=Floor())):
        kept.answer(one, work)

    assert len(times) == 2


def test_no_residual_is_called_best_below_what_can_be_measured() -> None:
    asked = Question(pool=pool(20), limits=Limits(slots=20), floor=Floor())
    found = answers_to(asked)
    doubt = uncertainty_of(asked.pool, range(20), Floor(slot_angle_u_deg=0.05))
    sheet = replace(bare_sheet(asked), doubt=doubt)
    options = [replace(o.measured, residual=complex(n)) for n, o in enumerate(found.options)]
    assert doubt is not None
    far = replace(options[2], residual=complex(3 * doubt.p95_g_mm))

    row = compare(sheet, [*options[:2], far], words_of("en"), Figures("en"))[0]

    assert row.best == (True, True, False)


def bare_sheet(asked: Question) -> SetsSheet:
    """A page of these blades before any answer."""
    snapshot = Snapshot(
        site="A", site_name="A", zone="UTC", now_us=0, head_seq=1, head_hash="0" * 64
    )
    return SetsSheet(
        snapshot=snapshot,
        products=("P",),
        product="P",
        slots=20,
        rotor=Rotor(),
        source=Source(),
        pool=asked.pool,
    )

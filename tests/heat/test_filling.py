"""Which parts fill the next furnace runs: small shops by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ringwright.core.errors import Refused
from ringwright.heat import filling_model, filling_search
from ringwright.heat.filling import suggest
from ringwright.heat.loads import SuggestedRun
from tests.heat.make_waiting import AGE, BOND, at, drawn, furnace, part


def loads(runs: tuple[SuggestedRun, ...]) -> list[tuple[str, str, int, str]]:
    """Furnace, recipe, minutes from now, serials."""
    return [
        (one.furnace, one.recipe, (one.begin_us - at(0)) // 60_000_000, " ".join(one.serials))
        for one in runs
    ]


def test_a_window_goes_before_a_part_that_goes_first() -> None:
    shop = [furnace(capacity=1)]
    queue = [part("A", priority=1), part("B", deadline=30)]

    found = suggest(shop, queue)

    assert loads(found.runs) == [("F-1", "form", 0, "B"), ("F-1", "form", 60, "A")]
    assert found.proved
    assert not found.missed


def test_a_part_that_goes_first_goes_before_a_full_load() -> None:
    shop = [furnace(capacity=3, recipes="form:60 age:60")]
    queue = [*(part(one) for one in "ABC"), part("Z", AGE, priority=1)]

    found = suggest(shop, queue)

    assert loads(found.runs) == [("F-1", "age", 0, "Z"), ("F-1", "form", 60, "A B C")]


def test_of_two_priorities_the_higher_goes_earlier() -> None:
    queue = [part("A", priority=1), part("B", priority=2), part("C")]

    found = suggest([furnace(capacity=1)], queue, runs_each=3)

    assert [one.serials for one in found.runs] == [("B",), ("A",), ("C",)]


def test_a_full_load_in_a_while_goes_before_two_half_ones_now() -> None:
    shop = [furnace("F-1", capacity=4), furnace("F-2", free=10, capacity=2)]
    queue = [part(one) for one in "AB"]

    found = suggest(shop, queue)

    assert loads(found.runs) == [("F-2", "form", 10, "A B")]
    assert found.runs[0].empty == 0


def test_with_the_same_load_the_earlier_furnace_is_taken() -> None:
    shop = [furnace("F-1", free=20), furnace("F-2", free=10)]

    found = suggest(shop, [part("A"), part("B")])

    assert loads(found.runs) == [("F-2", "form", 10, "A B")]


def test_a_run_waits_for_a_part_whose_window_it_then_makes() -> None:
    shop = [furnace(capacity=2, recipes="form:120")]
    queue = [part("A"), part("B", ready=20, deadline=40)]

    found = suggest(shop, queue)

    assert loads(found.runs) == [("F-1", "form", 20, "B A")]


def test_one_run_does_one_recipe() -> None:
    shop = [furnace(capacity=4, recipes="form:60 age:30")]
    queue = [part("A"), part("B", AGE)]

    found = suggest(shop, queue)

    assert loads(found.runs) == [("F-1", "age", 0, "B"), ("F-1", "form", 30, "A")]


def test_a_recipe_for_two_steps_takes_both_in_one_run() -> None:
    found = suggest([furnace(capacity=2, recipes="both:75")], [part("A"), part("B", AGE)])

    assert loads(found.runs) == [("F-1", "both", 0, "A B")]


@pytest.mark.parametrize(("deadline", "placed"), [(60, True), (59.999999, False)])
def test_a_run_may_begin_at_the_last_moment_of_a_window(deadline: float, placed: bool) -> None:
    shop = [furnace(free=60)]

    found = suggest(shop, [part("A", deadline=deadline)])

    assert bool(found.runs) == placed
    assert found.missed == (() if placed else ("A",))


def test_a_window_that_outlasts_the_horizon_is_not_missed_yet() -> None:
    shop = [furnace(capacity=1)]
    queue = [part("A", deadline=90), part("B", deadline=100), part("C", deadline=120)]

    found = suggest(shop, queue, runs_each=2)

    assert [one.serials for one in found.runs] == [("A",), ("B",)]
    assert found.waiting == ("C",)
    assert not found.missed


def test_what_no_furnace_can_take_is_left_and_its_window_is_missed() -> None:
    found = suggest([furnace()], [part("A", BOND), part("B", BOND, deadline=500), part("C")])

    assert found.waiting == ("A",)
    assert found.missed == ("B",)
    assert [one.serials for one in found.runs] == [("C",)]


def test_without_furnaces_or_parts_nothing_is_suggested() -> None:
    assert suggest([furnace()], []).runs == ()
    assert suggest([], [part("A")]).waiting == ("A",)
    assert suggest([replace(furnace(), recipes=())], [part("A")]).waiting == ("A",)


def test_parts_alike_go_in_by_their_serial() -> None:
    queue = [part(one) for one in ("C", "A", "E", "B", "D")]

    found = suggest([furnace(capacity=2)], queue)

    assert [one.serials for one in found.runs] == [("A", "B"), ("C", "D")]
    assert found.waiting == ("E",)


@pytest.mark.parametrize("seed", range(5))
def test_any_order_of_the_questioner_gives_one_answer(seed: int) -> None:
    shop, queue = drawn(seed, furnaces=3, parts=12)
    mixed = np.random.default_rng(seed).permutation(len(queue))

    assert suggest(shop, queue) == suggest(shop[::-1], [queue[n] for n in mixed])


def test_a_search_cut_short_says_so_and_still_keeps_every_rule() -> None:
    shop, queue = drawn(3, furnaces=3, parts=30)

    found = suggest(shop, queue, seconds=0.0)

    assert not found.proved
    assert found.runs == ()
    assert len(found.missed) + len(found.waiting) == 30


def test_moments_are_coarsened_rather_than_counted_without_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A part is then taken as ready a little later than it is, never earlier."""
    shop, queue = drawn(4, furnaces=3, parts=20, grain=7)
    exact = suggest(shop, queue)
    monkeypatch.setattr(filling_model, "MOST_PAIRS", 80)

    coarse = suggest(shop, queue)

    assert exact.proved
    assert not coarse.proved
    ready = {one.serial: one.ready_us for one in queue}
    assert all(ready[one] <= run.begin_us for run in coarse.runs for one in run.serials)
    assert coarse.runs


def test_a_tree_cut_short_gives_no_more_than_it_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(filling_search, "NODES", 0)
    shop, queue = drawn(5, furnaces=3, parts=25)

    found = suggest(shop, queue)

    placed = [one for run in found.runs for one in run.serials]
    assert len(placed) == len(set(placed))


@pytest.mark.parametrize(
    ("shop", "queue", "why"),
    [
        ([furnace(), furnace()], [], "named twice"),
        ([furnace()], [part("A"), part("A")], "named twice"),
        ([furnace(capacity=0)], [], "at least one part"),
        ([furnace(recipes="form:0")], [], "takes some minutes"),
        ([furnace(recipes="form:nan")], [], "takes some minutes"),
    ],
)
def test_nonsense_is_refused(shop: list, queue: list, why: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(Refused, match=why):
        suggest(shop, queue)


@pytest.mark.parametrize("runs_each", [0, 6])
def test_the_horizon_has_limits(runs_each: int) -> None:
    with pytest.raises(Refused, match="runs ahead"):
        suggest([furnace()], [], runs_each=runs_each)

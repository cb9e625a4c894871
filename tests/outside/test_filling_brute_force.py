"""Filling of furnaces against every plan there is, listed by itertools.

Each part goes into one of the runs of any able furnace or into none, each run has any recipe,
and a run begins as early as its furnace and its parts allow. The best plan by the documented
order of questions is looked for by comparing tuples; nothing of the model is used.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import combinations, product

import pytest

from ringwright.heat.filling import suggest
from ringwright.heat.loads import FreeSlot, Runnable, Suggestion, WaitingPart
from ringwright.heat.recipe import Use
from tests.heat.make_waiting import MINUTE_US, drawn, worth, worth_of

RUNS_EACH = 2


def able(run: Runnable, part: WaitingPart) -> bool:
    return Use(product=part.product, step=part.step) in run.uses


def plans(
    shop: list[FreeSlot], queue: list[WaitingPart]
) -> Iterator[list[tuple[str, int, tuple[str, ...]]]]:
    """Every plan that keeps the rules: furnace, begin, serials of each run."""
    slots = [(place, number) for place in range(len(shop)) for number in range(RUNS_EACH)]
    for puts in product([None, *slots], repeat=len(queue)):
        inside = list(zip(queue, puts, strict=True))
        loads = {slot: [one for one, put in inside if put == slot] for slot in slots}
        if any(len(load) > shop[place].capacity for (place, _), load in loads.items()):
            continue
        choices = [
            [run for run in shop[slot[0]].recipes if all(able(run, p) for p in load)]
            for slot, load in loads.items()
            if load
        ]
        used = [slot for slot in slots if loads[slot]]
        for recipes in product(*choices):
            plan = timed(shop, used, loads, recipes)
            if plan is not None:
                yield plan


def timed(
    shop: list[FreeSlot],
    used: list[tuple[int, int]],
    loads: dict[tuple[int, int], list[WaitingPart]],
    recipes: tuple[Runnable, ...],
) -> list[tuple[str, int, tuple[str, ...]]] | None:
    """Begins as early as may be; None where a window is overrun."""
    free = [one.free_from_us for one in shop]
    plan = []
    for slot, run in zip(used, recipes, strict=True):
        load = loads[slot]
        begin = max(free[slot[0]], *(p.ready_us for p in load))
        if any(p.deadline_us is not None and p.deadline_us < begin for p in load):
            return None
        free[slot[0]] = begin + round(run.minutes * MINUTE_US)
        plan.append((shop[slot[0]].furnace, begin, tuple(p.serial for p in load)))
    return plan


def broken_rules(
    shop: list[FreeSlot], queue: list[WaitingPart], found: Suggestion, runs_each: int
) -> list[str]:
    """What a suggestion breaks, in words."""
    by_code, by_serial = {one.furnace: one for one in shop}, {one.serial: one for one in queue}
    told = []
    for run in found.runs:
        furnace = by_code[run.furnace]
        recipe = next(one for one in furnace.recipes if one.recipe == run.recipe)
        load = [by_serial[one] for one in run.serials]
        told += ["too full"] if len(load) > furnace.capacity else []
        told += ["empty"] if not load else []
        told += ["empty places miscounted"] if run.empty != furnace.capacity - len(load) else []
        told += ["not free"] if run.begin_us < furnace.free_from_us else []
        told += ["too short"] if run.end_us - run.begin_us != recipe.minutes * MINUTE_US else []
        for one in load:
            told += [] if able(recipe, one) else [f"{one.serial} in another recipe"]
            told += [f"{one.serial} not ready"] if one.ready_us > run.begin_us else []
            late = one.deadline_us is not None and run.begin_us > one.deadline_us
            told += [f"{one.serial} too late"] if late else []
    for run, other in combinations(found.runs, 2):
        apart = run.end_us <= other.begin_us or other.end_us <= run.begin_us
        told += ["two runs at once"] if run.furnace == other.furnace and not apart else []
    numbers = Counter(one.furnace for one in found.runs)
    told += ["too many runs"] if any(number > runs_each for number in numbers.values()) else []
    everyone = [s for run in found.runs for s in run.serials] + [*found.missed, *found.waiting]
    told += [] if sorted(everyone) == sorted(by_serial) else ["a part lost or doubled"]
    return told


@pytest.mark.parametrize("seed", range(48))
def test_no_plan_is_better_than_the_one_suggested(seed: int) -> None:
    furnaces, parts = ((1, 6), (2, 4), (2, 5))[seed % 3]
    shop, queue = drawn(seed, furnaces, parts)

    found = suggest(shop, queue, runs_each=RUNS_EACH)

    best = min(worth(shop, queue, plan, RUNS_EACH) for plan in plans(shop, queue))
    assert found.proved
    assert worth_of(shop, queue, found, RUNS_EACH) == pytest.approx(best)
    assert len(found.missed) == best[0]
    assert not broken_rules(shop, queue, found, RUNS_EACH)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("runs_each", [1, 3])
def test_no_rule_is_broken_in_a_larger_shop(seed: int, runs_each: int) -> None:
    shop, queue = drawn(1000 + seed, furnaces=4, parts=30)

    found = suggest(shop, queue, runs_each=runs_each, seconds=2.0)

    assert not broken_rules(shop, queue, found, runs_each)
    assert found.runs

"""The most urgent goes in first, and no figure of the suggestion changes by it."""

from __future__ import annotations

import random

import pytest

from ringwright.heat.filling import suggest
from ringwright.heat.loads import FreeSlot, Runnable, WaitingPart
from ringwright.heat.recipe import Use
from ringwright.heatruns.load_order import earliest_first

MINUTE_US = 60_000_000
STEP = {"A": Use(product="A", step=20), "B": Use(product="B", step=20)}


def hall(dice: random.Random) -> tuple[list[FreeSlot], list[WaitingPart]]:
    slots = [
        FreeSlot(
            furnace=f"F{n}",
            free_from_us=dice.randrange(0, 90) * MINUTE_US,
            capacity=dice.randrange(1, 4),
            recipes=tuple(
                Runnable(
                    recipe=f"R{name}{n}", minutes=dice.choice((45, 60, 120)), uses=(STEP[name],)
                )
                for name in ("AB", "A", "B")[dice.randrange(3)]
            ),
        )
        for n in range(2)
    ]
    parts = [
        WaitingPart(
            serial=f"S-{n:02}",
            product=dice.choice("AB"),
            step=20,
            ready_us=0,
            deadline_us=dice.choice((None, dice.randrange(20, 300) * MINUTE_US)),
            priority=int(dice.random() < 0.2),
        )
        for n in range(9)
    ]
    return slots, parts


@pytest.mark.parametrize("seed", range(25))
def test_exchanging_changes_no_figure_and_leaves_nothing_to_exchange(seed: int) -> None:
    slots, parts = hall(random.Random(f"order {seed}"))
    found = suggest(slots, parts)
    better = earliest_first(found, slots, parts)
    by_serial = {one.serial: one for one in parts}

    assert found.proved
    assert len(better.missed) == len(found.missed)
    assert better.waiting == found.waiting
    every = [one for run in better.runs for one in run.serials]
    assert sorted([*every, *better.missed, *better.waiting]) == sorted(by_serial)
    for old, new in zip(found.runs, better.runs, strict=True):
        assert (old.furnace, old.recipe, old.begin_us) == (
            new.furnace,
            new.recipe,
            new.begin_us,
        )
        assert len(old.serials) == len(new.serials)
        told = [by_serial[one] for one in new.serials]
        assert sorted(one.priority for one in told) == sorted(
            by_serial[one].priority for one in old.serials
        )
        # The letter of the recipe is the product that it does.
        assert {one.product for one in told} == {new.recipe[1]}
        assert all(one.deadline_us is None or one.deadline_us >= new.begin_us for one in told)
    for first in better.runs:
        for second in better.runs:
            if second.begin_us <= first.begin_us or second.recipe[1] != first.recipe[1]:
                continue
            for one in (by_serial[name] for name in first.serials):
                for two in (by_serial[name] for name in second.serials):
                    urgent = (two.deadline_us or 2**62) < (one.deadline_us or 2**62)
                    fits = one.deadline_us is None or one.deadline_us >= second.begin_us
                    assert not (urgent and fits and one.priority == two.priority)


def test_a_part_without_a_place_is_the_one_with_most_time_in_hand() -> None:
    slot = FreeSlot(
        furnace="F", free_from_us=0, capacity=1,
        recipes=(Runnable(recipe="RA", minutes=60, uses=(STEP["A"],)),),
    )  # fmt: skip
    parts = [
        WaitingPart(serial=name, product="A", step=20, ready_us=0, deadline_us=us * MINUTE_US)
        for name, us in (("S-late", 50), ("S-soon", 10), ("S-mid", 30))
    ]

    found = earliest_first(suggest([slot], parts), [slot], parts)

    assert found.runs[0].serials == ("S-soon",)
    assert found.missed == ("S-mid", "S-late")

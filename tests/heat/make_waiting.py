"""Furnaces and waiting parts drawn at random, and the plain reckoning of a plan."""

from __future__ import annotations

import numpy as np

from ringwright.heat.loads import FreeSlot, Runnable, Suggestion, WaitingPart
from ringwright.heat.recipe import Use

MINUTE_US = 60_000_000
NOW_US = 1_790_000_000_000_000
PRODUCT = "HF22-BLADE"
FORM = Use(product=PRODUCT, step=40)
AGE = Use(product=PRODUCT, step=60)
BOND = Use(product="PT68-BLADE", step=30)


def at(minute: float) -> int:
    """So many minutes from now."""
    return NOW_US + round(minute * MINUTE_US)


def furnace(
    code: str = "F-1", free: float = 0, capacity: int = 2, recipes: str = "form:60"
) -> FreeSlot:
    """Recipes as `form:60 age:30`: what they do and how many minutes they take."""
    uses = {"form": (FORM,), "age": (AGE,), "bond": (BOND,), "both": (FORM, AGE)}
    named = [one.split(":") for one in recipes.split()]
    return FreeSlot(
        furnace=code,
        free_from_us=at(free),
        capacity=capacity,
        recipes=tuple(
            Runnable(recipe=name, minutes=float(minutes), uses=uses[name])
            for name, minutes in named
        ),
    )


def part(
    serial: str,
    use: Use = FORM,
    *,
    ready: float = -30,
    deadline: float | None = None,
    priority: int = 0,
) -> WaitingPart:
    return WaitingPart(
        serial=serial,
        product=use.product,
        step=use.step,
        ready_us=at(ready),
        deadline_us=None if deadline is None else at(deadline),
        priority=priority,
    )


def drawn(
    seed: int, furnaces: int, parts: int, grain: int = 15
) -> tuple[list[FreeSlot], list[WaitingPart]]:
    """A shop at random; moments are multiples of `grain` minutes, so that they often meet."""
    random = np.random.default_rng(seed)
    menu = ["form:60", "form:60 age:30", "both:75", "age:45 both:90", "form:45 bond:120"]
    shop = [
        furnace(
            f"F-{n}",
            free=grain * int(random.integers(0, 4)),
            capacity=int(random.integers(1, 4)),
            recipes=str(random.choice(menu)),
        )
        for n in range(1, furnaces + 1)
    ]
    queue = [
        part(
            f"HF22-{n:04d}",
            (FORM, FORM, AGE, BOND)[random.integers(0, 4)],
            ready=grain * int(random.integers(-4, 5)),
            deadline=None if random.random() < 0.4 else grain * int(random.integers(0, 10)),
            priority=int(random.random() < 0.25),
        )
        for n in range(1, parts + 1)
    ]
    return shop, queue


def beyond(shop: list[FreeSlot], one: WaitingPart, runs_each: int) -> float:
    """When a run beyond the horizon could begin at the earliest, on a furnace that is able."""
    moments = [
        f.free_from_us + runs_each * min(round(r.minutes * MINUTE_US) for r in f.recipes)
        for f in shop
        if any(Use(product=one.product, step=one.step) in r.uses for r in f.recipes)
    ]
    return min(moments, default=float("inf"))


def worth(
    shop: list[FreeSlot],
    queue: list[WaitingPart],
    runs: list[tuple[str, int, tuple[str, ...]]],
    runs_each: int,
) -> tuple[float, ...]:
    """The questions in their order, each to be small: of runs as furnace, begin, serials."""
    begins = {serial: begin for _, begin, serials in runs for serial in serials}
    places = {one.furnace: one.capacity for one in shop}
    missed = sum(
        one.serial not in begins
        and one.deadline_us is not None
        and one.deadline_us < beyond(shop, one, runs_each)
        for one in queue
    )
    since = min((one.free_from_us for one in shop), default=0)
    late = {serial: (begin - since) / MINUTE_US for serial, begin in begins.items()}
    first = [one.serial for one in queue if one.priority > 0 and one.serial in begins]
    return (
        missed,
        -len(first),
        sum(late[one] for one in first),
        -len(begins),
        sum(places[name] for name, _, serials in runs if serials),
        sum(late.values()),
    )


def worth_of(
    shop: list[FreeSlot], queue: list[WaitingPart], found: Suggestion, runs_each: int
) -> tuple[float, ...]:
    runs = [(one.furnace, one.begin_us, one.serials) for one in found.runs]
    return worth(shop, queue, runs, runs_each)

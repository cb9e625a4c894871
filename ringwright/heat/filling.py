"""Which waiting parts fill the next furnace runs, before their windows run out.

A proposal for a supervisor, who loads the furnace; nothing here is booked. What is best is
settled one question after the other, each within the answers to those before it:

1. as few windows missed as can be;
2. parts that go first: of each priority, highest first, as many placed as can be, then early;
3. as many parts placed as can be, then as few empty places in the runs that takes;
4. the parts placed as early as can be (least sum of the times at which they go in).

A run does one recipe and begins when its furnace is free and all its parts are ready.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from ringwright.core.errors import Refused
from ringwright.heat.filling_model import Model, model_of
from ringwright.heat.filling_search import Search
from ringwright.heat.loads import FreeSlot, SuggestedRun, Suggestion, WaitingPart
from ringwright.heat.trace import Floats

RUNS_EACH: Final = 2
"""Runs looked ahead on each furnace."""
MOST_RUNS_EACH: Final = 5
SECONDS: Final = 5.0


def suggest(
    furnaces: Sequence[FreeSlot],
    parts: Sequence[WaitingPart],
    *,
    runs_each: int = RUNS_EACH,
    seconds: float = SECONDS,
) -> Suggestion:
    """The best filling of the next `runs_each` runs of each furnace, by the order above.

    A window counts as missed where no suggested run begins within it, unless it outlasts the
    earliest moment at which an able furnace could begin a run beyond these. The same furnaces
    and parts, in any order, give the same answer as long as `seconds`, a ceiling, is not hit.

    Refused: a furnace or serial named twice, a capacity below one, a run that takes no time,
    `runs_each` outside 1 to 5.
    """
    _check(furnaces, parts, runs_each)
    in_order = sorted(furnaces, key=lambda one: one.furnace)
    queue = sorted(parts, key=_place_in_queue)
    model = model_of(in_order, queue, runs_each)
    search = Search(model, seconds)
    for question in _questions(model):
        search.ask(question)
    return _told(in_order, queue, model, search)


def _check(furnaces: Sequence[FreeSlot], parts: Sequence[WaitingPart], runs_each: int) -> None:
    if len({one.furnace for one in furnaces}) < len(furnaces):
        raise Refused("a furnace is named twice; give each once, with when it is free")
    if len({one.serial for one in parts}) < len(parts):
        raise Refused("a part is named twice among those that wait")
    if any(one.capacity < 1 for one in furnaces):
        raise Refused("a furnace takes at least one part")
    if any(not one.minutes > 0 for furnace in furnaces for one in furnace.recipes):
        raise Refused("a run takes some minutes; give how long each recipe takes")
    if not 1 <= runs_each <= MOST_RUNS_EACH:
        raise Refused(f"look 1 to {MOST_RUNS_EACH} runs ahead on each furnace")


def _place_in_queue(part: WaitingPart) -> tuple[int, bool, int, int, str]:
    return (
        -part.priority,
        part.deadline_us is None,
        part.deadline_us or 0,
        part.ready_us,
        part.serial,
    )


def _questions(model: Model) -> list[Floats]:
    """What to make small, in the order of what matters."""
    groups = model.groups
    found = [-model.placed([one.at_stake for one in groups])]
    for priority in sorted({one.priority for one in groups if one.priority > 0}, reverse=True):
        first = [one.priority == priority for one in groups]
        found += [-model.placed(first), model.begins(first)]
    everyone = [True] * len(groups)
    return [*found, -model.placed(everyone), model.capacities(), model.begins(everyone)]


def _told(
    furnaces: Sequence[FreeSlot],
    queue: Sequence[WaitingPart],
    model: Model,
    search: Search,
) -> Suggestion:
    left = {one.serial for one in queue}
    runs = []
    for option, load in model.loads(search.best):
        serials = {one.serial for one in load}
        left -= serials
        furnace = furnaces[option.furnace]
        runs.append(
            SuggestedRun(
                furnace=furnace.furnace,
                recipe=option.recipe,
                begin_us=option.begin_us,
                end_us=option.end_us,
                serials=tuple(one.serial for one in queue if one.serial in serials),
                empty=furnace.capacity - len(serials),
            )
        )
    at_stake = {one.serial for group in model.groups if group.at_stake for one in group.parts}
    return Suggestion(
        runs=tuple(sorted(runs, key=lambda one: (one.begin_us, one.furnace))),
        missed=tuple(one.serial for one in queue if one.serial in left & at_stake),
        waiting=tuple(one.serial for one in queue if one.serial in left - at_stake),
        proved=search.proved and not model.coarsened,
    )

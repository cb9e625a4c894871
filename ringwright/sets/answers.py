"""Answers for one set, worked out while the page waits; longer work is a run's."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, replace
from threading import Lock
from time import monotonic
from typing import Any, Final

from ringwright.balance.draw import Drawn, draw_sets
from ringwright.balance.feasible import smallest_neighbour
from ringwright.balance.limits import Impossible, Limits
from ringwright.balance.order import order_set, sorted_alternating
from ringwright.balance.pool import Pool
from ringwright.balance.uncertainty import Floor, uncertainty_of
from ringwright.balance.vectors import Measured, broken, measure
from ringwright.balance.work import USUAL_EFFORT, Work
from ringwright.core.errors import Refused
from ringwright.core.glossary import N_

LETTERS: Final = ("A", "B", "C")
AT_ONCE_SLOTS, AT_ONCE_STOCK = 120, 500
"""A page waits for one set of so many slots out of so many blades; not for more."""
CEILING_S: Final = 4.0
"""No page waits longer for one answer; the answer says when it met this."""
LEAST, NEIGHBOUR, ALTERNATING, SORTED = (
    N_("least residual"),
    N_("like neighbours"),
    N_("alternating"),
    N_("sorted heavy and light"),
)
"""How an answer was led."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One answer: places in the pool for slot 1 … N, and what it comes to."""

    letter: str
    led: str
    order: tuple[int, ...]
    measured: Measured
    broken: tuple[str, ...] = ()
    """Rules it does not keep: the order made by hand knows none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """All that an answer follows from."""

    pool: Pool
    limits: Limits
    effort: int = USUAL_EFFORT
    seed: int = 1
    floor: Floor = field(default_factory=Floor)
    """What is known of the uncertainty beside the blades' own."""

    def key(self) -> Hashable:
        """Equal for questions with the same answer."""
        limits = self.limits
        return (
            self.pool.blades,
            replace_locks(limits),
            tuple(sorted(limits.locks.items())),
            (self.effort, self.seed, self.floor),
        )


def replace_locks(limits: Limits) -> Hashable:
    """The rules but the locks, as a key."""
    return (
        limits.slots, limits.frequency_spread_hz, limits.moment_spread_g_mm,
        limits.neighbour_g_mm, limits.opposite_g_mm, limits.alternate, limits.disc_g_mm,
        limits.excluded,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """Two or three answers of one set, or why there is none."""

    options: tuple[Option, ...] = ()
    drawn: Drawn | None = None
    trouble: str = ""
    smallest: float | None = None
    """The least value of the rule that is impossible, where that is proved."""
    stopped_early: bool = False


def at_once(pool: Pool, slots: int, effort: int) -> bool:
    """True where a page may wait for the answer."""
    small = slots <= AT_ONCE_SLOTS and len(pool) <= AT_ONCE_STOCK
    return small and effort <= USUAL_EFFORT


def answers_to(question: Question) -> Answers:
    """The least residual, another way of leading, and the order made by hand."""
    work = _work(question)
    try:
        drawn = _draw(question, work)
        chosen = question.pool.take(drawn.sets[0])
        options = [_least(question, chosen, work)]
    except Impossible as trouble:
        return Answers(trouble=trouble.message, smallest=trouble.smallest)
    except Refused as trouble:
        return Answers(trouble=trouble.message)
    options += _others(question, chosen, options[0])
    lettered = [replace(o, letter=LETTERS[n]) for n, o in enumerate(options)]
    return Answers(options=tuple(lettered), drawn=drawn, stopped_early=work.stopped_early)


def answers_of(question: Question, order: tuple[int, ...], *, stopped_early: bool) -> Answers:
    """An answer that was found elsewhere, beside the order made by hand of the same blades."""
    chosen = question.pool.take(order)
    by_hand = sorted_alternating(chosen, question.limits).tolist()
    options = (
        option_of(question, LEAST, order, LETTERS[0]),
        option_of(question, SORTED, question_order(question, chosen, by_hand), LETTERS[1]),
    )
    return Answers(options=options, stopped_early=stopped_early)


def _work(question: Question) -> Work:
    return Work(effort=question.effort, seed=question.seed, clock=monotonic, seconds=CEILING_S)


def _draw(question: Question, work: Work) -> Drawn:
    return draw_sets(question.pool, question.limits, work, sets=1)


def _least(question: Question, chosen: Pool, work: Work) -> Option:
    order = order_set(chosen, question.limits, work, stop_at_g_mm=_stop_at(question, chosen))
    return option_of(question, LEAST, question_order(question, chosen, order.tolist()))


def _stop_at(question: Question, chosen: Pool) -> float | None:
    found = uncertainty_of(chosen, range(len(chosen)), question.floor)
    return None if found is None else found.stop_at_g_mm


def _others(question: Question, chosen: Pool, first: Option) -> list[Option]:
    """Led otherwise where that is possible; always the order made by hand."""
    found = []
    for led, limits in _led_otherwise(question.limits, chosen):
        try:
            order = order_set(
                chosen, limits, _work(question), stop_at_g_mm=_stop_at(question, chosen)
            )
        except Refused:
            continue
        option = option_of(question, led, question_order(question, chosen, order.tolist()))
        if option.order != first.order:
            found.append(option)
            break
    by_hand = sorted_alternating(chosen, question.limits).tolist()
    found.append(option_of(question, SORTED, question_order(question, chosen, by_hand)))
    return found


def _led_otherwise(limits: Limits, chosen: Pool) -> list[tuple[str, Limits]]:
    ways = []
    if chosen.frequency_hz is not None and limits.slots % 2 == 0 and not limits.alternate:
        ways.append((ALTERNATING, replace(limits, alternate=True)))
    if limits.slots > 3:
        least = smallest_neighbour(chosen.moment_g_mm)
        near = min(1.6 * least, limits.neighbour_g_mm or math.inf)
        ways.append((NEIGHBOUR, replace(limits, neighbour_g_mm=near)))
    return ways


def question_order(question: Question, chosen: Pool, order: list[int]) -> tuple[int, ...]:
    """Places in the question's own pool of an order of the chosen blades."""
    places = question.pool.places
    return tuple(places[chosen.blades[place].serial] for place in order)


def option_of(question: Question, led: str, order: tuple[int, ...], letter: str = "") -> Option:
    """An order of the pool, measured."""
    limits = question.limits
    return Option(
        letter=letter,
        led=led,
        order=order,
        measured=measure(question.pool, order, limits.disc_g_mm),
        broken=broken(question.pool, order, limits),
    )


class Kept:
    """The newest answers, so that a what-if does not search again; safe in threads."""

    def __init__(self, most: int = 24) -> None:
        self._most = most
        self._lock = Lock()
        self._known: OrderedDict[Hashable, Answers] = OrderedDict()

    def answer(
        self, question: Question, work: Callable[[Question], Answers] = answers_to
    ) -> Answers:
        """The answer, searched for once."""
        key = question.key()
        with self._lock:
            if key in self._known:
                self._known.move_to_end(key)
                return self._known[key]
        found = work(question)
        with self._lock:
            # An answer that the clock cut short may be bettered when the machine is idle.
            if not found.stopped_early:
                self._known[key] = found
            while len(self._known) > self._most:
                self._known.popitem(last=False)
        return found


KEPT: Final = Kept()


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchanged:
    """An answer with blades exchanged by hand."""

    before: Option
    after: Option
    slots: frozenset[int]
    """Slots that another blade stands in now."""
    steps: tuple[tuple[int, str], ...] = field(default=())
    """Each exchange: a slot, and the slot or serial that it was exchanged with."""


def exchange(question: Question, option: Option, texts: tuple[str, ...]) -> Exchanged | None:
    """The answer after the exchanges "4-9" or "4-HB-7", one by one; raises Refused."""
    if not texts:
        return None
    order, steps = list(option.order), []
    for text in texts:
        slot, other = _exchange_of(text, len(order))
        _exchange(question.pool, order, slot, other)
        steps.append((slot, other))
    after = option_of(question, option.led, tuple(order), option.letter)
    moved = {
        slot for slot, (a, b) in enumerate(zip(option.order, order, strict=True), 1) if a != b
    }
    return Exchanged(before=option, after=after, slots=frozenset(moved), steps=tuple(steps))


def _exchange_of(text: str, slots: int) -> tuple[int, str]:
    slot, mark, other = (piece.strip() for piece in text.partition("-"))
    if not (mark and other and slot.isascii() and slot.isdigit() and len(slot) < 5):
        raise Refused(f"an exchange is written SLOT-SLOT or SLOT-SERIAL, not {text[:40]!r}")
    if not 1 <= int(slot) <= slots:
        raise Refused(f"there is no slot {slot}; slots are 1 to {slots}")
    return int(slot), other


def _exchange(pool: Pool, order: list[int], slot: int, other: str) -> None:
    """Exchange in place; the other is a slot, or a blade by its serial."""
    there: int | None
    if other.isascii() and other.isdigit() and 1 <= int(other[:5]) <= len(order):
        there = int(other) - 1
        place = order[there]
    elif other in pool.places:
        place = pool.places[other]
        there = order.index(place) if place in order else None
    else:
        raise Refused(f"{other[:60]} is neither a slot nor a blade that is free for this set")
    if there is not None:
        order[there] = order[slot - 1]
    order[slot - 1] = place


def seen_of(order: tuple[int, ...], pool: Pool, seqs: Mapping[str, int]) -> dict[str, Any]:
    """Serial to its last entry of every blade of an order, as the screen was drawn."""
    serials = pool.serials(order)
    return {serial: seqs[serial] for serial in serials if serial in seqs}

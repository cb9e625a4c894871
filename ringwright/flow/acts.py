"""What is to be acted on this week, ranked by what it costs. Pure.

The one currency is parts of this week's promise: the parts at stake, no more than the week
still owes, over the product's target.
A window that is over within two hours cannot wait and stands first. At most two entries of one
kind and seven in all, so that no kind hides the others. What costs no part of the promise yet
comes behind, by the days it has left.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from ringwright.core.instants import HOUR_US

MOST_ACTS: Final = 7
MOST_OF_A_KIND: Final = 2
URGENT_US: Final = 2 * HOUR_US
"""A window that is over within this time stands first."""
SOON_US: Final = 6 * HOUR_US
"""A window that is over within this time is told."""
SOON_DAYS: Final = 7
"""A gauge or an authorisation that lapses within so many days is told."""
LEAST_IDLE_H: Final = 1.0
"""Working hours that a station group stands empty before it is told."""
WINDOW, HELD, OVER, STARVED, SHORT, GAUGE, PAPER = (
    "window", "held", "over", "starved", "short", "gauge", "paper"
)  # fmt: skip
KINDS: Final = (WINDOW, STARVED, HELD, OVER, SHORT, GAUGE, PAPER)
"""Which comes first where as much is at stake."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ActPart:
    """A part where it stands, as far as it is acted on."""

    serial: str
    product: str
    step: int
    in_work: bool
    since_us: int
    excess_us: int
    """By the clock beyond its plan; 0 while inside it."""
    excess_worked_us: int
    """The same in working hours of the station group of its step."""
    held: str | None = None
    held_since_us: int = 0
    priority: int = 0
    last_seq: int = 0
    deadline_us: int | None = None
    """When its next window is over, while it runs and nobody let it go on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Starved:
    """A station group that works now and has nothing to do."""

    group: str
    stations: int
    product: str
    step: int
    since_us: int
    idle_h: float
    """Working hours since its last work ended."""
    planned_h: float
    """Planned hours of one part there."""
    feeds_step: int | None = None
    """The step before it at which its next parts stand."""
    feeds: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortSet:
    """Free finished blades, one less than whole sets need."""

    product: str
    free: int
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Lapsing:
    """A gauge or an authorisation that ends soon."""

    kind: str
    code: str
    """The gauge, or person and method."""
    what: str
    """The gauge's kind; `authorisation` or `eyesight` of a person."""
    day: str
    left_days: int
    product: str = ""
    parts: int = 0
    """Parts that stand at steps which nothing and nobody else may do then."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ActFacts:
    """What a week's acts are ranked from."""

    now_us: int
    targets: Mapping[str, float | None]
    """Product to its promise of this week."""
    to_go: Mapping[str, float | None]
    """Product to what it still owes of it."""
    parts: Sequence[ActPart] = ()
    starved: Sequence[Starved] = ()
    short: Sequence[ShortSet] = ()
    lapsing: Sequence[Lapsing] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One thing to act on; what its kind does not have is left empty."""

    kind: str
    product: str
    step: int | None = None
    parts: float = 0.0
    """Parts at stake."""
    share: float = 0.0
    """Of the week's promise; 0 where nothing is promised."""
    urgent: bool = False
    worst: ActPart | None = None
    """The part to look at first."""
    excess_h: float = 0.0
    """By the clock, of all its parts."""
    excess_worked_h: float = 0.0
    starved: Starved | None = None
    short: ShortSet | None = None
    lapsing: Lapsing | None = None
    rank: int = 0


def rank_acts(facts: ActFacts) -> tuple[Act, ...]:
    """At most seven, the costliest first; see the module's rule."""
    found = [_weighed(act, facts) for act in _all(facts)]
    found.sort(key=_order)
    taken: Counter[str] = Counter()
    chosen: list[Act] = []
    for act in found:
        taken[act.kind] += 1
        if taken[act.kind] <= MOST_OF_A_KIND and len(chosen) < MOST_ACTS:
            chosen.append(replace(act, rank=len(chosen) + 1))
    return tuple(chosen)


def _weighed(act: Act, facts: ActFacts) -> Act:
    """No more can be at stake than the week still owes."""
    target, owed = facts.targets.get(act.product), facts.to_go.get(act.product)
    parts = act.parts if owed is None else min(act.parts, owed)
    return replace(act, parts=parts, share=parts / target if target else 0.0)


def _order(act: Act) -> tuple[object, ...]:
    left = act.lapsing.left_days if act.lapsing else 0
    place = KINDS.index(act.kind)
    return (not act.urgent, -act.share, -act.parts, left, place, act.product, act.step or 0)


def _all(facts: ActFacts) -> Iterable[Act]:
    yield from _windows(facts)
    yield from _by_step(facts, HELD, lambda part: part.held is not None)
    yield from _by_step(facts, OVER, lambda part: part.held is None and part.excess_us > 0)
    for one in facts.starved:
        parts = one.idle_h * one.stations / one.planned_h if one.planned_h else 0.0
        yield Act(kind=STARVED, product=one.product, step=one.step, parts=parts, starved=one)
    for short in facts.short:
        yield Act(kind=SHORT, product=short.product, parts=1.0, short=short)
    for lapse in facts.lapsing:
        kind, parts = lapse.kind, float(lapse.parts)
        yield Act(kind=kind, product=lapse.product, parts=parts, lapsing=lapse)


def _windows(facts: ActFacts) -> Iterable[Act]:
    """Windows that still run and are nearly over, by step; those of held parts too: a hold
    stops no window."""

    def soon(part: ActPart) -> bool:
        until = part.deadline_us
        return until is not None and 0 <= until - facts.now_us <= SOON_US

    for act in _by_step(facts, WINDOW, soon):
        worst = min((p for p in facts.parts if _here(p, act) and soon(p)), key=_until)
        yield replace(act, worst=worst, urgent=_until(worst) - facts.now_us <= URGENT_US)


def _until(part: ActPart) -> int:
    assert part.deadline_us is not None
    return part.deadline_us


def _here(part: ActPart, act: Act) -> bool:
    return (part.product, part.step) == (act.product, act.step)


def _by_step(facts: ActFacts, kind: str, which: Callable[[ActPart], bool]) -> Iterable[Act]:
    steps: dict[tuple[str, int], list[ActPart]] = {}
    for part in facts.parts:
        if which(part):
            steps.setdefault((part.product, part.step), []).append(part)
    for (product, step), parts in steps.items():
        yield Act(
            kind=kind,
            product=product,
            step=step,
            parts=float(len(parts)),
            worst=max(parts, key=lambda part: _worse(part, kind)),
            excess_h=sum(part.excess_us for part in parts) / HOUR_US,
            excess_worked_h=sum(part.excess_worked_us for part in parts) / HOUR_US,
        )


def _worse(part: ActPart, kind: str) -> tuple[int, str]:
    return (-part.held_since_us if kind == HELD else part.excess_us, part.serial)

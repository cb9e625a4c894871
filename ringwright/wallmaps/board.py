"""What is known of the walls of many cases, and of one: read once, in one snapshot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Final

from ringwright.core.conformity import GUARD, INSIDE, OUTSIDE
from ringwright.core.errors import Missing
from ringwright.gauges.judging import GaugeDesk
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.parts.queries import PartCard, read_part
from ringwright.sites.queries import when_at
from ringwright.wallmaps.queries import (
    PlanOnRecord,
    cases_in_work,
    mark_of,
    plan_in_force,
    plan_of_set,
    read_plans,
    read_sets,
    readings_of,
)
from ringwright.wallmaps.rules import WallSet, latest_by_step
from ringwright.walls.harmonics import Round, rounds
from ringwright.walls.mapping import WallMap, map_wall
from ringwright.walls.plan import WallPlan
from ringwright.walls.reading import WallReading
from ringwright.walls.shifting import Shift, best_shift
from ringwright.walls.trend import (
    Expected,
    Learned,
    Removal,
    ZoneRemoval,
    aligned,
    by_zone,
    expected,
    learned,
)

THIN_AHEAD: Final = "thin ahead"
THIN_CHANCE: Final = 0.05
"""From this chance on a place is told as thin ahead: what is surer than 95 % is not."""
WORST_FIRST: Final = (OUTSIDE, THIN_AHEAD, GUARD, INSIDE)
CASES_LEARNED: Final = 30
"""The latest past cases that removal is learned from."""
SHOWN: Final = 60
"""Cases drawn and listed on the page; the file has them all."""
IN_WORK, ALL = "work", "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseLine:
    """The wall of one case by its latest set."""

    serial: str
    read: WallSet
    map: WallMap
    expected: tuple[Expected, ...]
    """Each place at finish, the likeliest to be thin first; as read where no cut is left."""

    @property
    def cuts_left(self) -> tuple[int, ...]:
        """The cuts still to come."""
        return self.map.plan.cuts_after(self.map.step)

    @property
    def first(self) -> Expected | None:
        """The place likeliest to be thin at finish."""
        return self.expected[0] if self.expected else None

    @property
    def state(self) -> str:
        """The worst of what was read and of what is expected; empty without a reading."""
        if self.map.state == OUTSIDE:
            return OUTSIDE
        first = self.first
        if self.cuts_left and first is not None and first.chance_under >= THIN_CHANCE:
            return THIN_AHEAD
        return self.map.state

    @property
    def rank(self) -> tuple[int, float, float, str]:
        """Worst first."""
        order = WORST_FIRST.index(self.state) if self.state else len(WORST_FIRST)
        thinnest, first = self.map.thinnest, self.first
        margin = min(thinnest.margin_mm if thinnest else 0.0, first.margin_mm if first else 0.0)
        return (order, -(first.chance_under if first else 0.0), margin, self.serial)


@dataclass(frozen=True, slots=True, kw_only=True)
class WallsBoard:
    """Every case whose wall was read, worst first."""

    drawn: Snapshot
    products: tuple[str, ...]
    """Products that have a wall plan."""
    product: str
    scope: str
    lines: tuple[CaseLine, ...]

    @property
    def needs(self) -> bool:
        """True where a case needs somebody."""
        return any(line.state in (OUTSIDE, THIN_AHEAD) for line in self.lines)

    def of_state(self, state: str) -> int:
        """How many cases are in a state."""
        return sum(line.state == state for line in self.lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What went off between two readings of one case."""

    first: WallSet
    last: WallSet
    zones: tuple[ZoneRemoval, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseBoard:
    """One case: its sets, the map of the step asked for, what is expected of it."""

    drawn: Snapshot
    part: PartCard
    plan: WallPlan | None
    """The plan of the set that is shown; without one, the plan in force."""
    sets: tuple[WallSet, ...]
    """All of them, those withdrawn too, newest first."""
    by_step: dict[int, WallSet]
    line: CaseLine | None = None
    """None while nothing was read."""
    readings: tuple[WallReading, ...] = ()
    rounds: tuple[Round, ...] = ()
    steps: tuple[Step, ...] = ()
    learned: dict[str, Learned] = field(default_factory=dict)
    shift: Shift | None = None
    doubt: str = ""
    """Why the set that is shown is doubtful: its gauge failed a check since."""

    @property
    def takes_readings(self) -> bool:
        """True while the case is in work at a step of its plan."""
        part = self.part
        return (
            self.plan is not None and part.place == "in work" and part.step in self.plan.steps
        )


@dataclass(slots=True)
class _Past:
    """Removal of past cases, each pair of sets aligned once."""

    plans: dict[str, list[PlanOnRecord]]
    cases: dict[str, dict[int, WallSet]]
    kept: dict[str, tuple[WallReading, ...]]
    found: dict[tuple[str, int], dict[str, tuple[Removal, ...]]] = field(default_factory=dict)

    def learned(self, plan: WallPlan, step: int, but: str) -> dict[str, Learned]:
        """What the cuts after a step took of other cases."""
        key = (plan.product, step)
        if key not in self.found:
            pairs = past_pairs(self.cases, plan, step)
            self.found[key] = {
                serial: aligned(
                    plan,
                    (first.step, self.kept[first.digest]),
                    (last.step, self.kept[last.digest]),
                )
                for serial, (first, last) in pairs.items()
            }
        return learned([one for serial, one in self.found[key].items() if serial != but])


def past_pairs(
    cases: dict[str, dict[int, WallSet]], plan: WallPlan, step: int
) -> dict[str, tuple[WallSet, WallSet]]:
    """The latest cases read both at a step and after the last cut, with both sets."""
    ends = [one for one in plan.steps if not plan.cuts_after(one)]
    found = {
        serial: (sets[step], sets[ends[0]])
        for serial, sets in cases.items()
        if ends and step in sets and ends[0] in sets and sets[step].product == plan.product
    }
    newest = sorted(found, key=lambda serial: found[serial][1].at_us)[-CASES_LEARNED:]
    return {serial: found[serial] for serial in newest}


def read_walls(read: Read, product: str = "", scope: str = IN_WORK) -> WallsBoard:
    """Every case whose wall was read, worst first; raises Missing for no such product."""
    plans = read_plans(read)
    if product and product not in plans:
        raise Missing(f"{product[:60]} has no wall plan")
    cases = _cases(read_sets(read, product=product))
    asked = set(cases)
    if scope == IN_WORK:
        asked &= cases_in_work(read, [product] if product else list(plans))
    latest = {serial: _latest(cases[serial]) for serial in sorted(asked)}
    past = _past(read, plans, cases, list(latest.values()))
    lines = [_line(one, past) for one in latest.values()]
    return WallsBoard(
        drawn=snapshot_of(read, to_the_minute=True),
        products=tuple(plans),
        product=product,
        scope=scope,
        lines=tuple(sorted(lines, key=lambda line: line.rank)),
    )


def read_case(read: Read, serial: str, step: int | None = None) -> CaseBoard:
    """One case; raises Missing for an unknown part, or a step it was not read at."""
    # A case that was marked anew is found by what it bears now; its walls lie under its serial.
    part = read_part(read, mark_of(read, serial))
    plans = read_plans(read, part.product)
    sets = read_sets(read, product=part.product)
    own = [one for one in sets if one.serial == part.serial]
    by_step = latest_by_step(own)
    day = when_at(read.now_us, read.site.zone).day
    if step is not None and step not in by_step:
        raise Missing(f"the wall of {part.serial} was not read at step {step}")
    bare = CaseBoard(
        drawn=snapshot_of(read, to_the_minute=True),
        part=part,
        plan=plan_in_force(plans.get(part.product, []), day),
        sets=tuple(reversed(own)),
        by_step=by_step,
    )
    if not by_step:
        return bare
    shown = by_step[step if step is not None else max(by_step)]
    past = _past(read, plans, _cases(sets), list(by_step.values()), [shown])
    line = _line(shown, past)
    plan, cuts = line.map.plan, line.cuts_left
    return replace(
        bare,
        plan=plan,
        line=line,
        readings=past.kept[shown.digest],
        rounds=rounds(line.map.points),
        steps=_steps(list(by_step.values()), past),
        learned=past.learned(plan, shown.step, part.serial) if cuts else {},
        shift=best_shift(line.expected, plan.faces.get(cuts[0], "")) if cuts else None,
        doubt=GaugeDesk(read).doubt_of(shown.gauge, shown.at_us) or "",
    )


def _cases(sets: Sequence[WallSet]) -> dict[str, dict[int, WallSet]]:
    """Serial to its latest counting set at each step; without those that have none."""
    by_serial: dict[str, list[WallSet]] = {}
    for one in sets:
        by_serial.setdefault(one.serial, []).append(one)
    found = {serial: latest_by_step(own) for serial, own in by_serial.items()}
    return {serial: steps for serial, steps in found.items() if steps}


def _latest(steps: dict[int, WallSet]) -> WallSet:
    return steps[max(steps)]


def _past(
    read: Read,
    plans: dict[str, list[PlanOnRecord]],
    cases: dict[str, dict[int, WallSet]],
    wanted: list[WallSet],
    asked: list[WallSet] | None = None,
) -> _Past:
    """Removal of past cases for the sets asked about, with all readings it needs."""
    needed = list(wanted)
    for one in wanted if asked is None else asked:
        plan = plan_of_set(plans[one.product], one)
        if plan.cuts_after(one.step):
            for pair in past_pairs(cases, plan, one.step).values():
                needed.extend(pair)
    return _Past(plans=plans, cases=cases, kept=readings_of(read, needed))


def _line(one: WallSet, past: _Past) -> CaseLine:
    plan = plan_of_set(past.plans[one.product], one)
    found = map_wall(plan, one.step, past.kept[one.digest], one.u_mm)
    known = past.learned(plan, one.step, one.serial) if plan.cuts_after(one.step) else {}
    return CaseLine(serial=one.serial, read=one, map=found, expected=expected(found, known))


def _steps(sets: Sequence[WallSet], past: _Past) -> tuple[Step, ...]:
    """What went off between each two successive steps read."""
    found = []
    for first, last in pairwise(sets):
        plan = plan_of_set(past.plans[last.product], last)
        removals = aligned(
            plan,
            (first.step, past.kept[first.digest]),
            (last.step, past.kept[last.digest]),
        )
        found.append(Step(first=first, last=last, zones=by_zone(removals)))
    return tuple(found)

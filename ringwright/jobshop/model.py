"""The plan as constraints for OR-tools CP-SAT.

Each machine has a clock of its own that stands in closed hours, on which its operations may
not overlap. A moment by the wall is the machine's clock with the closed hours that have gone
by then added: one truth value for each, so that no table is needed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from ortools.sat.python import cp_model

from ringwright.jobshop.clock import NO_END, Clock, clock_of
from ringwright.jobshop.shop import Case, Key, Operation, Plan, Shop


@dataclass(slots=True, kw_only=True)
class Choice:
    """An operation on one of its machines: whether, and from and to which working tick."""

    machine: str
    there: Any
    begin: Any
    end: Any
    set_up: Any
    """Whether a set-up is needed: a literal, or 0 where there is none."""
    span: Any


@dataclass(slots=True)
class Model:
    """The constraints of one shop, and where its answers stand."""

    shop: Shop
    horizon: int
    loose: bool = False
    """True where starts that are locked may be left, at a price."""
    every: bool = False
    """True where every set-up counts, also one that could be saved: for large shops, in which
    the order on a machine as a round is too much to ask."""
    most_late: int | None = None
    """Weighted lateness of a plan that is there already; no case need be later."""
    cp: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    clocks: dict[str, Clock] = field(default_factory=dict)
    choices: dict[Key, list[Choice]] = field(default_factory=dict)
    start: dict[Key, Any] = field(default_factory=dict)
    end: dict[Key, Any] = field(default_factory=dict)
    late: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.clocks = {one.code: clock_of(one) for one in self.shop.machines}
        for case in self.shop.cases:
            self._case(case)
        for machine in self.shop.machines:
            self._one_at_a_time(machine.code, machine.set_for)
        self._fixtures()

    def makespan(self) -> Any:
        """When the last case is off."""
        last = self.cp.new_int_var(0, self.horizon, "makespan")
        self.cp.add_max_equality(last, [0, *self.end.values()])
        return last

    def hint(self, plan: Plan) -> None:
        """A plan that is there already, to begin from."""
        for one in plan.placements:
            self.cp.add_hint(self.start[one.key], one.start)
            self.cp.add_hint(self.end[one.key], one.end)
            for choice in self.choices[one.key]:
                self.cp.add_hint(choice.there, int(choice.machine == one.machine))

    def _case(self, case: Case) -> None:
        before: Key | None = None
        for operation in case.operations:
            key = (case.serial, operation.name)
            self._operation(key, operation)
            if before is not None:
                self.cp.add(self.start[key] >= self.end[before] + operation.after)
            elif not operation.on:
                self.cp.add(self.start[key] >= case.release)
            before = key
        if before is not None and case.due is not None:
            most = self.horizon if self.most_late is None else self.most_late // case.weight
            late = self.cp.new_int_var(0, most, f"late {case.serial}")
            self.cp.add(late >= self.end[before] - case.due)
            self.late[case.serial] = late

    def _operation(self, key: Key, operation: Operation) -> None:
        cp, lock = self.cp, self.shop.locks.get(key)
        start = self.start[key] = cp.new_int_var(0, self.horizon, f"start {key}")
        end = self.end[key] = cp.new_int_var(0, self.horizon, f"end {key}")
        named = operation.on or (lock.machine if lock else "")
        machines = [
            one for one in operation.machines if one in self.clocks and named in ("", one)
        ]
        if operation.on and operation.on in self.clocks:
            machines = [operation.on]
        choices = [self._choice(key, operation, machine) for machine in machines]
        self.choices[key] = choices
        cp.add_exactly_one(choice.there for choice in choices)
        for choice in choices:
            self._by_the_wall(choice, operation, start, end)
        if operation.on:
            cp.add(start == 0)
        elif lock is not None and lock.start is not None and not self.loose:
            cp.add(start == lock.start)

    def _choice(self, key: Key, operation: Operation, machine: str) -> Choice:
        cp = self.cp
        most = min(self.clocks[machine].work(self.horizon), self.horizon)
        there = cp.new_bool_var(f"{key} on {machine}")
        begin = cp.new_int_var(0, most, f"begin {key} {machine}")
        end = cp.new_int_var(0, most, f"off {key} {machine}")
        set_up: Any = 0
        if operation.set_up and not operation.on:
            set_up = cp.new_bool_var(f"set up {key} {machine}")
            cp.add_implication(set_up, there)
        length = max(operation.spindle, 0 if operation.set_up else 1)
        size = length + operation.set_up * set_up
        span = cp.new_optional_interval_var(begin, size, end, there, f"{key} at {machine}")
        if operation.on:
            cp.add(begin == 0)
        return Choice(
            machine=machine, there=there, begin=begin, end=end, set_up=set_up, span=span
        )

    def _by_the_wall(self, choice: Choice, operation: Operation, start: Any, end: Any) -> None:
        """Begin and end of the choice by the wall, while it is the one that holds."""
        cp, clock = self.cp, self.clocks[choice.machine]
        begun: Any = choice.begin
        over: Any = choice.end
        for work, closed in clock.gaps:
            if clock.begin(work) > self.horizon and work:
                break
            if not operation.on:
                begun = begun + closed * self._gone(choice.begin, work, choice.there)
            over = over + closed * self._gone(choice.end, work + 1, choice.there)
        if not operation.on:
            cp.add(start == begun).only_enforce_if(choice.there)
        cp.add(end == over).only_enforce_if(choice.there)

    def _gone(self, moment: Any, work: int, there: Any) -> Any:
        """Whether that many working ticks have gone at the moment."""
        gone = self.cp.new_bool_var("gone")
        self.cp.add(moment >= work).only_enforce_if(gone)
        self.cp.add(moment < work).only_enforce_if(~gone, there)
        self.cp.add_implication(gone, there)
        return gone

    def _one_at_a_time(self, machine: str, set_for: str) -> None:
        """No overlap on its clock; a set-up unless what went before was the same work."""
        here = [
            (key, choice)
            for key, choices in self.choices.items()
            for choice in choices
            if choice.machine == machine
        ]
        self.cp.add_no_overlap(choice.span for _, choice in here)
        works = [self.shop.works(key) for key, _ in here]
        if self.every or (len(set(works)) == len(works) and set_for not in works):
            for _, choice in here:
                if not isinstance(choice.set_up, int):
                    self.cp.add(choice.set_up == choice.there)
            return
        self._circuit(here, [set_for, *works])

    def _circuit(self, here: list[tuple[Key, Choice]], works: list[str]) -> None:
        """The order on one machine as a round through all that are there; 0 is the start."""
        cp = self.cp
        arcs: list[Any] = [(0, 0, cp.new_bool_var("nothing here"))]
        for to, (_, choice) in enumerate(here, start=1):
            arcs.append((to, to, ~choice.there))
            arcs.append((to, 0, cp.new_bool_var("last")))
            same: list[Any] = []
            for come, (_, other) in enumerate([(None, None), *here]):
                if come == to:
                    continue
                follows = cp.new_bool_var(f"{come} then {to}")
                arcs.append((come, to, follows))
                if other is not None:
                    cp.add(choice.begin >= other.end).only_enforce_if(follows)
                if works[come] == works[to]:
                    same.append(follows)
            if not isinstance(choice.set_up, int):
                cp.add(choice.set_up + sum(same) == choice.there)
        cp.add_circuit(arcs)

    def _fixtures(self) -> None:
        for kind, count in self.shop.fixtures.items():
            held = [key for key, one in self.shop.operations.items() if one.fixture == kind]
            if len({serial for serial, _ in held}) <= count:
                continue
            spans = []
            for key in held:
                size = self.cp.new_int_var(0, self.horizon, f"held {key}")
                span = self.cp.new_interval_var(self.start[key], size, self.end[key], "held")
                spans.append(span)
            self.cp.add_cumulative(spans, [1] * len(spans), max(count, 1))


def horizon_of(shop: Shop) -> int:
    """By when every plan worth looking at is over: as if all were done one after another."""
    total = sum(
        max(one.set_up + one.spindle, 1) + one.after for one in shop.operations.values()
    )
    latest = max((case.release for case in shop.cases), default=0)
    locked = max((lock.start or 0 for lock in shop.locks.values()), default=0)
    base = max(latest, locked)
    ends = []
    for machine in shop.machines:
        clock = clock_of(machine)
        ends.append(min(clock.end(min(clock.work(base) + total, clock.length)), NO_END))
    return max([base + total, *ends])

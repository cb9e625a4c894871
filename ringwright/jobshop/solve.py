"""The best plan: least weighted lateness, then the shortest, by OR-tools CP-SAT.

The work is counted, not timed, by one worker with one seed: the same question has the same
answer on every machine.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from ringwright.jobshop.clock import NO_END
from ringwright.jobshop.locks import Impossible, check_single, conflict
from ringwright.jobshop.shop import Placement, Plan, Shop, in_order, weighted_lateness
from ringwright.jobshop.timing import by_due, missed, timed, turns_of

if TYPE_CHECKING:
    from ringwright.jobshop.model import Model

EFFORT: Final = 2.0
"""Deterministic time that a plan may take: about as many seconds."""


def best_plan(shop: Shop, effort: float = EFFORT) -> Plan:
    """The plan; raises `Impossible` where no plan keeps every lock.

    Where the effort ends first it is the best found, and never worse than the rule of thumb.
    """
    check_single(shop)
    rule = by_due(shop)
    if not rule.placements:
        return replace(rule, proved=True, bound=0)
    found = _solved(shop, rule, effort)
    if found is None:
        if missed(shop, rule):
            raise _why_impossible(shop, effort)
        return rule
    sound = [one for one in (found, rule) if not missed(shop, one)]
    best = min(sound, key=lambda one: (weighted_lateness(shop, one), one.makespan))
    return replace(best, proved=found.proved, bound=found.bound)


def _solved(shop: Shop, rule: Plan, effort: float) -> Plan | None:
    from ringwright.jobshop.model import Model, horizon_of

    kept = not missed(shop, rule)
    horizon = max(horizon_of(shop), rule.makespan) if rule.makespan < NO_END else horizon_of(shop)
    if kept and not weighted_lateness(shop, rule):
        horizon = rule.makespan  # the best is no later, so it is no longer either
    model = Model(shop, horizon)
    if kept:
        model.hint(rule)
    case = shop.case
    late = sum(case[serial].weight * ticks for serial, ticks in model.late.items())
    model.cp.minimize((horizon + 1) * late + model.makespan())
    solver, status = run(model, effort)
    if status not in ("OPTIMAL", "FEASIBLE"):
        return None
    raw = Plan(placements=_placements(model, solver))
    early = timed(shop, turns_of(raw))
    best = raw if missed(shop, early) else early
    bound = max(0, int(solver.best_objective_bound) // (horizon + 1))
    return replace(best, proved=status == "OPTIMAL", bound=bound)


def run(model: Model, effort: float) -> tuple[Any, str]:
    """Ask CP-SAT; its answer, and the name of its state."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(model.cp)
    return solver, solver.status_name(status)


def _placements(model: Model, solver: Any) -> tuple[Placement, ...]:
    shop = model.shop
    found = []
    for key, choices in model.choices.items():
        choice = next(one for one in choices if solver.boolean_value(one.there))
        used = choice.set_up if isinstance(choice.set_up, int) else solver.value(choice.set_up)
        found.append(
            Placement(
                serial=key[0], operation=key[1], machine=choice.machine,
                start=solver.value(model.start[key]), end=solver.value(model.end[key]),
                set_up=used * shop.operations[key].set_up, locked=key in shop.locks,
            )
        )  # fmt: skip
    return in_order(found)


def _why_impossible(shop: Shop, effort: float) -> Impossible:
    """The fewest locked starts that have to move, and by how little."""
    from ringwright.jobshop.model import Model, horizon_of

    horizon = horizon_of(shop)
    model = Model(shop, horizon, loose=True)
    price: list[Any] = []
    for key, lock in shop.locks.items():
        if lock.start is None:
            continue
        away = model.cp.new_int_var(0, horizon, "away")
        model.cp.add_abs_equality(away, model.start[key] - lock.start)
        moved = model.cp.new_bool_var("moved")
        model.cp.add(away == 0).only_enforce_if(~moved)
        price.append(away + moved * horizon)
    model.cp.minimize(sum(price))
    solver, status = run(model, effort)
    if status not in ("OPTIMAL", "FEASIBLE"):
        return Impossible([])
    near = Plan(placements=_placements(model, solver))
    return Impossible([conflict(shop, near, key) for key in missed(shop, near)])

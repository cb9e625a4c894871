"""The best plan: least weighted lateness, then the shortest, by OR-tools CP-SAT.

The work is counted, not timed, by one worker with one seed: the same question has the same
answer on every machine.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from ringwright.jobshop.clock import NO_END
from ringwright.jobshop.locks import Impossible, check_single, conflict
from ringwright.jobshop.polish import polished, value
from ringwright.jobshop.shop import Placement, Plan, Shop, in_order, weighted_lateness
from ringwright.jobshop.timing import by_due, by_slack, by_weight, missed, timed, turns_of

if TYPE_CHECKING:
    from ringwright.jobshop.model import Model

EFFORT: Final = 0.3
"""Deterministic time that CP-SAT may take; about two seconds for each unit of it."""
MOST_EXACT: Final = 12
"""Operations up to which set-ups saved by the order are looked for by CP-SAT too."""


def best_plan(shop: Shop, effort: float = EFFORT) -> Plan:
    """The plan; raises `Impossible` where no plan keeps every lock.

    Where the effort ends first it is the best found, and never worse than the rule of thumb.
    """
    check_single(shop)
    rule = by_due(shop)
    if not rule.placements:
        return replace(rule, proved=True, bound=0)
    first = _first(shop, rule)
    kept = not missed(shop, first)
    found = _solved(shop, first, effort)
    if found is None and not kept:
        raise _why_impossible(shop, effort)
    if found is None:
        return first
    sound = [one for one in (found, first) if not missed(shop, one)]
    best = min(sound, key=lambda one: value(shop, one))
    return replace(best, proved=found.proved, bound=found.bound)


def _first(shop: Shop, rule: Plan) -> Plan:
    """The best of what several rules of thumb give, each made better by single moves."""
    plans = [one for one in (rule, by_weight(shop), by_slack(shop)) if not missed(shop, one)]
    better = [polished(shop, one) for one in dict.fromkeys(plans)]
    return min(better, key=lambda one: value(shop, one), default=rule)


def _solved(shop: Shop, first: Plan, effort: float) -> Plan | None:
    """What CP-SAT makes of it, begun from a plan; None where it finds nothing."""
    large = len(first.placements) > MOST_EXACT and _may_save(shop)
    found = _asked(shop, first, effort, every=large)
    if found is None and large:
        found = _asked(shop, first, effort, every=False)
    elif found is not None and large:
        found = replace(polished(shop, found), proved=False, bound=None)
    return found


def _may_save(shop: Shop) -> bool:
    """True where the order can save a set-up."""
    works = [shop.works(key) for key in shop.operations]
    return len(set(works)) < len(works) or any(one.set_for in works for one in shop.machines)


def _asked(shop: Shop, first: Plan, effort: float, *, every: bool) -> Plan | None:
    from ringwright.jobshop.model import Model

    kept = not missed(shop, first)
    horizon = _horizon(shop, first)
    # With every set-up counted, the plan there is already may be out of reach.
    worst = weighted_lateness(shop, first) if kept and not every else None
    model = Model(shop, horizon, every=every, most_late=worst)
    if kept:
        model.hint(first)
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


def _horizon(shop: Shop, first: Plan) -> int:
    """By when the best plan is over."""
    from ringwright.jobshop.model import horizon_of

    longest = horizon_of(shop)
    if first.makespan >= NO_END or missed(shop, first):
        return longest
    late = weighted_lateness(shop, first)
    if not late:
        return first.makespan if not _may_save(shop) else max(longest, first.makespan)
    dues = [case.due for case in shop.cases if case.due is not None]
    if len(dues) == len(shop.cases):
        # No case ends later than all the lateness there is after the last due.
        longest = min(longest, max(dues) + late)
    return max(longest, first.makespan)


def run(model: Model, effort: float) -> tuple[Any, str]:
    """Ask CP-SAT; its answer, and the name of its state."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.linearization_level = 0
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
        if lock.start is None or key not in model.start:
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

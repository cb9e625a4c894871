"""What the case shop of a practice site plans by, as its real site has it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from ringwright.core.errors import Clash, Missing, Refused
from ringwright.ledger.transaction import Tx
from ringwright.machines.card import Fixture, MachiningFile, MachiningPlan
from ringwright.machines.queries import read_fixtures, read_machining
from ringwright.machines.service import LoadMachining, load_machining
from ringwright.material.queries import read_alloys
from ringwright.material.service import SetAlloy, set_alloy
from ringwright.welds.queries import read_plans
from ringwright.welds.service import SetWeldPlan, set_weld_plan


def copy_case_shop(tx: Tx, real_id: int) -> list[str]:
    """Take weld plans, machining plans and alloys in; those that do not fit what is here.

    The cards they are for must be there already. Lots and containers stay: they are of real
    material.
    """
    newest = {one.plan.product: one.plan for one in read_plans(tx.connection, real_id)}
    left = [
        f"{plan.product} {plan.revision}"
        for plan in newest.values()
        if not _taken(partial(set_weld_plan, tx, SetWeldPlan(plan=plan, key=None)))
    ]
    fixtures = read_fixtures(tx.connection, real_id)
    for machining in read_machining(tx.connection, real_id).values():
        file = MachiningFile(plan=machining, fixtures=_held(machining, fixtures))
        if not _taken(partial(load_machining, tx, LoadMachining(file=file))):
            left.append(machining.product)
    here = read_alloys(tx.connection, tx.site.id)
    for code, alloy in read_alloys(tx.connection, real_id).items():
        order = partial(set_alloy, tx, SetAlloy(alloy=alloy, key=None))
        if here.get(code) != alloy and not _taken(order):
            left.append(code)
    return left


def _held(plan: MachiningPlan, fixtures: dict[str, Fixture]) -> tuple[Fixture, ...]:
    """The fixtures that a plan's operations want."""
    wanted = dict.fromkeys(need.fixture for need in plan.needs)
    return tuple(fixtures[kind] for kind in wanted if kind in fixtures)


def _taken(take: Callable[[], object]) -> bool:
    try:
        take()
    except (Clash, Missing, Refused):
        return False
    return True

"""The plan that the planner keeps on Monday morning, made by the rule of thumb: due first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Final

from ringwright.caseshop.desk import read_desk
from ringwright.core.calendar import HOUR_US, week_of, week_window
from ringwright.core.fields import as_data
from ringwright.jobshop.timing import by_due
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Draft, Tx
from ringwright.machines.card import BOARD, Placed
from ringwright.machines.facts import PlanKept
from seed_demo.facts import SUBJECT
from seed_demo.publishing import as_of
from seed_demo.telling import demo_allowed

ON_MONDAY_US: Final = 7 * HOUR_US


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanThen:
    """Keep this week's plan as the planner did on its Monday."""

    operation: ClassVar[str] = "plan demo"
    week: str
    key: str | None

    def body(self) -> Any:
        """The week."""
        return self.week

    def subject(self) -> str:
        """The demo."""
        return SUBJECT


def plan_of_week(now_us: int, zone: str) -> PlanThen | None:
    """The command of the present week; None before its planner came in."""
    week = week_of(now_us, zone)
    if now_us < week_window(week, zone)[0] + ON_MONDAY_US + HOUR_US:
        return None
    return PlanThen(week=week, key=f"demo-plan-{week}")


def plan_then(tx: Tx, command: PlanThen) -> dict[str, Any]:
    """Record the plan with what was known on that Monday; people's plans stand."""
    at_us = week_window(command.week, tx.site.zone, tx.site.week_starts)[0] + ON_MONDAY_US
    history = tx.history(PlanKept.subject_kind, BOARD)
    if any(entry.at_us >= at_us for entry in history):
        return {"placements": 0}
    desk = read_desk(as_of(tx, at_us))
    plan = by_due(desk.shop)
    placed = [
        Placed(
            serial=one.serial, step=int(one.operation), machine=one.machine,
            start_us=desk.us(one.start), locked=False,
        )
        for one in plan.placements
    ]  # fmt: skip
    if placed:
        fact = PlanKept(
            placements=[as_data(one) for one in placed], reason="due first, as every Monday"
        )
        draft = Draft(fact=fact, subject=BOARD, at_us=at_us, known_us=at_us, actor="planner")
        tx.append(draft, history)
    return {"placements": len(placed)}


HANDLINGS: dict[type, Handling] = {PlanThen: Handling(plan_then, demo_allowed)}

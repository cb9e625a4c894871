"""Set a product's weld plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Final

from ringwright.core.errors import Clash, Refused
from ringwright.core.fields import problem_of_text
from ringwright.core.instants import midnight_us
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Draft, Tx
from ringwright.people.allowing import allows
from ringwright.routecards.queries import read_revisions
from ringwright.welds.card import WeldPlan
from ringwright.welds.facts import WeldPlanSet
from ringwright.welds.toml import plan_data

PLAN: Final = WeldPlanSet.subject_kind


@dataclass(frozen=True, slots=True, kw_only=True)
class SetWeldPlan:
    """Add a weld plan, or a revision of one."""

    operation: ClassVar[str] = "set weld plan"
    plan: WeldPlan
    reason: str = ""
    key: str | None

    def body(self) -> Any:
        """The plan as JSON values."""
        return {"plan": plan_data(self.plan), "reason": self.reason}

    def subject(self) -> str:
        """The product."""
        return self.plan.product


def set_weld_plan(tx: Tx, command: SetWeldPlan) -> dict[str, Any]:
    """Record the revision; the same again changes nothing, other content raises Clash.

    Raises Refused for steps that the product's route card has not, or has of another kind.
    """
    plan = command.plan
    problem = problem_of_text(command.reason)
    if problem is not None:
        raise Refused(f"reason {problem}")
    _check_steps(tx, plan)
    data = plan_data(plan)
    history = tx.history(PLAN, plan.product)
    answer = {"product": plan.product, "revision": plan.revision, "added": False}
    for entry in history:
        if entry.data["plan"]["weld_plan"]["revision"] == plan.revision:
            if entry.data["plan"] == data:
                return answer
            raise Clash(
                f"the weld plan of {plan.product} at revision {plan.revision} is there already "
                "with other content; give the changed plan a new revision"
            )
    since = plan.effective_from
    effective_us = midnight_us(since, tx.site.zone) if since else tx.now_us
    fact = WeldPlanSet(
        plan=data, effective_us=effective_us, reason=command.reason.strip() or None
    )
    tx.append(Draft(fact=fact, subject=plan.product, at_us=tx.now_us), history)
    return {**answer, "added": True}


def _check_steps(tx: Tx, plan: WeldPlan) -> None:
    revisions = read_revisions(tx.connection, tx.site.id, plan.product)
    if not revisions:
        raise Refused(f"no product {plan.product!r} at this site; load its route card first")
    steps = revisions[-1].card.by_number
    asked = (
        ("welding_step", plan.welding_step, "joining"),
        ("radiograph_step", plan.radiograph_step, "inspection"),
        ("accepted_after", plan.accepted_after, None),
    )
    for name, number, kind in asked:
        if number not in steps:
            raise Refused(f"{name}: {plan.product} has no step {number}")
        found = steps[number].kind
        if kind is not None and found != kind:
            raise Refused(f"{name}: step {number} of {plan.product} is {found}, not {kind}")
    if steps[plan.accepted_after].kind == "heat-cycle":
        raise Refused("accepted_after: a furnace run ends that step; name the one after it")


HANDLINGS: dict[type, Handling] = {SetWeldPlan: Handling(set_weld_plan, allows("weld plans"))}

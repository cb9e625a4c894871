"""No part leaves with a weld that is not accepted: asked of every end that accepts.

Whatever the way of the booking (the Bench, the API, a rack, paper, a correction, a sentence),
the floor's checks come here. A history that is loaded is not asked: it says what was.
"""

from __future__ import annotations

from ringwright.core.errors import Refused
from ringwright.ledger.transaction import Tx
from ringwright.parts.state import Part
from ringwright.routecards.card import RouteCard
from ringwright.welds.card import WeldPlan
from ringwright.welds.project import plan_finder
from ringwright.welds.queries import (
    RING,
    PlanRevision,
    plan_in_force,
    read_plans,
    ring_or_fresh,
)
from ringwright.welds.rules import fold
from ringwright.welds.telling import not_covered, open_told

CONCESSION = "concession"
ACCEPTS = ("pass", CONCESSION)


def check_welds(tx: Tx, part: Part, step: int | None, outcome: str) -> None:
    """Refuse to accept at the step that asks all welds, or to release, while one is open.

    A weld that was read and not accepted may go by the design authority's concession, made at
    that step or later and after the reading. Products without a weld plan ask nothing.
    """
    if outcome not in ACCEPTS or step is None or part.card is None:
        return
    plans = read_plans(tx.connection, tx.site.id, part.route.product)
    if not plans:
        return
    history = tx.history(RING, part.serial)
    find = plan_finder(tx.connection, tx.site.id)
    ring = fold(part.serial, history, find) if history else None
    plan = ring.plan if ring else plan_asked(part, plans, tx.now_us)
    if plan is None or step not in (plan.accepted_after, part.route.last):
        return
    ring = ring_or_fresh(ring, part.serial, plan)
    since_us = tx.now_us if outcome == CONCESSION else conceded_us(part, plan)
    left = not_covered(ring, since_us)
    if left:
        raise Refused(
            f"{part.serial} may not leave step {step}: {open_told(ring, left)}. "
            "See its weld map for what is next",
            code="welds-open",
        )


def plan_asked(part: Part, plans: list[PlanRevision], now_us: int) -> WeldPlan | None:
    """The plan of a part whose ring has no fact: that of when it came to be welded, or now."""
    steps = {one.plan.welding_step for one in plans}
    begun = [row.begin_us for row in part.visits if row.step in steps]
    return plan_in_force(plans, min(begun, default=now_us))


def conceded_us(part: Part, plan: WeldPlan) -> int | None:
    """When the design authority last conceded something of the welds; None if never."""
    after = _from(part.route, plan.accepted_after)
    found = [
        row.end_known_us
        for row in part.visits
        if row.outcome == CONCESSION and row.step in after
    ]
    found += [
        row.closed_known_us
        for row in part.nonconformities
        if row.decision == CONCESSION and row.found_step in after
    ]
    return max(found, default=None)


def _from(route: RouteCard, step: int) -> frozenset[int]:
    return frozenset(number for number in route.index if number >= step)

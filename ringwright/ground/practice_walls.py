"""Wall plans of a practice site, as its real site has them."""

from __future__ import annotations

from ringwright.core.errors import Clash, Refused
from ringwright.db import FOREVER_US
from ringwright.ledger.transaction import Tx
from ringwright.wallmaps.queries import plans_of_site
from ringwright.wallmaps.service import SetWallPlan, set_wall_plan


def copy_wall_plans(tx: Tx, real_id: int) -> list[str]:
    """Take the newest revisions in; those whose like has other content here, or no step.

    The cards they are for must be there already.
    """
    left = []
    for plans in plans_of_site(tx.connection, real_id, FOREVER_US).values():
        plan = plans[-1].plan
        try:
            set_wall_plan(tx, SetWallPlan(plan=plan, key=None))
        except (Clash, Refused):
            left.append(f"{plan.product} {plan.revision}")
    return left

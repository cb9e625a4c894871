"""Draw sets from a stock: as many as it allows, or as many as are asked for.

Limit boxes are placed first (`draw_fit`, `draw_pack`), blades handed out (`draw_share`) so that
those left behind are easy to place later (`draw_leave`), sets mended until each has an order
(`draw_order`). The number drawn stands beside a bound that always holds (`bound`).
"""

from __future__ import annotations

from ringwright.balance.draw_refuse import refuse_draw
from ringwright.balance.draw_search import Drawn, Search
from ringwright.balance.draw_stock import eligible
from ringwright.balance.limits import Limits
from ringwright.balance.pool import Pool
from ringwright.balance.work import Work
from ringwright.core.errors import Refused

__all__ = ["Drawn", "draw_sets"]


def draw_sets(pool: Pool, limits: Limits, work: Work, *, sets: int | None) -> Drawn:
    """Draw `sets` sets, or with None as many as the stock allows, at least one.

    Raises Refused when fewer were found, and says how many are possible; Impossible when that
    is proved, with the smallest feasible limit when not even one set is.
    """
    if sets is not None and sets < 1:
        raise Refused("at least one set must be asked for")
    stock = eligible(pool, limits)
    search = Search(pool, stock, limits, work)
    found = search.run(sets)
    if len(found) < (sets or 1):
        refuse_draw(pool, limits, found=len(found), asked=sets or 1, bound=search.bound)
    return search.drawn(found)

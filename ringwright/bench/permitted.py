"""Which lots may become a blade: asked wherever a lot is booked on a part.

A lot that nobody registered is known by its name alone and stops nothing. Loaded histories are
not asked, since they tell what was done; the Lots page lists what they did against the rule.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from ringwright.ledger.transaction import Tx
from ringwright.material.queries import read_lots
from ringwright.material.rules import check_permitted, turns
from ringwright.parts.facts import Created, PartFact
from ringwright.routecards.card import RouteCard

if TYPE_CHECKING:
    from ringwright.bench.service import Desk


def check_lot(desk: Desk, fact: PartFact) -> None:
    """Refuse a lot on a blade that is not released for rotating parts."""
    if fact.lot is None:
        return
    if isinstance(fact, Created):
        check_lots(desk.tx, desk.find(fact.product, fact.revision), [fact.lot])
    elif desk.part.card is not None:
        check_lots(desk.tx, desk.part.route, [fact.lot])


def check_lots(tx: Tx, card: RouteCard, lots: Iterable[str | None]) -> None:
    """The same for several lots that become one part of a product."""
    named = sorted({lot for lot in lots if lot})
    if not named or not turns(card.family):
        return
    for lot in read_lots(tx.connection, tx.site.id, named).values():
        check_permitted(lot, card.product, card.family)

"""Add products and route-card revisions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.errors import Clash
from ringwright.core.instants import midnight_us
from ringwright.ledger.transaction import Draft, Tx
from ringwright.routecards.card import RouteCard
from ringwright.routecards.facts import RouteRevised
from ringwright.routecards.toml import route_to_data

BEGINNING_US = -(2**53)
"""Before any instant a record could hold: a revision without a date always applied."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRoute:
    """Add a product or a revision of its route card."""

    operation: ClassVar[str] = "load route"
    card: RouteCard
    key: str | None = None

    def body(self) -> Any:
        """The card as JSON values."""
        return route_to_data(self.card)

    def subject(self) -> str:
        """The product's code."""
        return self.card.product


def load_route(tx: Tx, command: LoadRoute) -> dict[str, Any]:
    """Record the revision; the same again changes nothing, other content raises Clash."""
    card = command.card
    data = route_to_data(card)
    answer = {"product": card.product, "revision": card.revision, "added": False}
    history = tx.history("product", card.product)
    for entry in history:
        if entry.data["revision"] == card.revision:
            if entry.data["card"] == data:
                return answer
            raise Clash(
                f"{card.product} revision {card.revision} is there already with other content; "
                "give the changed card a new revision"
            )
    since = card.effective_from
    at_us = midnight_us(since, tx.site.zone) if since else BEGINNING_US
    fact = RouteRevised(revision=card.revision, card=data)
    draft = Draft(fact=fact, subject=card.product, at_us=at_us, known_us=min(at_us, tx.now_us))
    tx.append(draft, history)
    return {**answer, "added": True}

"""Products and their route cards, looked up."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache

from sqlalchemy import Connection, select

from ringwright.core.errors import Missing
from ringwright.routecards.card import FindCard, RouteCard
from ringwright.routecards.tables import RouteRevision
from ringwright.routecards.toml import route_from_data


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """One revision of a product and the instant it takes effect."""

    product: str
    revision: str
    number: int
    effective_us: int
    card: RouteCard


@lru_cache(maxsize=1024)
def _parsed(data: str) -> RouteCard:
    return route_from_data(json.loads(data))


def read_revisions(
    connection: Connection, site_id: int, product: str | None = None
) -> list[Revision]:
    """All revisions, by product in the order they came; of one product if given."""
    query = select(RouteRevision).where(RouteRevision.site_id == site_id)
    if product is not None:
        query = query.where(RouteRevision.product == product)
    rows = connection.execute(query.order_by(RouteRevision.number))
    return [
        Revision(
            product=row.product,
            revision=row.revision,
            number=row.number,
            effective_us=row.effective_us,
            card=_parsed(row.data),
        )
        for row in rows
    ]


def card_finder(connection: Connection, site_id: int) -> FindCard:
    """A function from (product, revision) to its card, reading each once; raises Missing."""
    known: dict[tuple[str, str], RouteCard] = {}

    def find(product: str, revision: str) -> RouteCard:
        if (product, revision) not in known:
            for row in read_revisions(connection, site_id, product):
                known[product, row.revision] = row.card
        try:
            return known[product, revision]
        except KeyError:
            raise Missing(f"no product {product!r} at revision {revision!r}") from None

    return find


def card_in_force(revisions: list[Revision], product: str, at_us: int) -> RouteCard:
    """The card of one of several products at an instant; see `in_force`."""
    return in_force([row for row in revisions if row.product == product], at_us).card


def in_force(revisions: list[Revision], at_us: int) -> Revision:
    """The newest revision in effect at an instant; before all of them, the earliest one.

    `revisions` are those of one product, not empty.
    """
    effective = [row for row in revisions if row.effective_us <= at_us]
    if effective:
        return max(effective, key=lambda row: (row.effective_us, row.number))
    return min(revisions, key=lambda row: (row.effective_us, row.number))

"""The ground rules of a site as one page shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ringwright.core.errors import Missing
from ringwright.ground.authorisations import Authorisations, read_authorisations
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import Site
from ringwright.people.callout import count_overdue
from ringwright.routecards.queries import Revision, in_force, read_revisions
from ringwright.sites.queries import (
    practice_site_of,
    read_calendar_codes,
    read_calendars,
    read_people,
    read_stations,
)
from ringwright.sites.site import Calendar, Person, Station


@dataclass(frozen=True, kw_only=True)
class Product:
    """A product with its revisions and the one a part created now would start on."""

    code: str
    now: Revision
    revisions: Sequence[Revision]


@dataclass(frozen=True, kw_only=True)
class GroundSheet:
    """All ground rules of a site, from one snapshot."""

    site: Site
    now_us: int
    head_seq: int
    head_hash: str
    products: Sequence[Product]
    stations: Sequence[Station]
    calendars: Mapping[str, Sequence[Calendar]]
    """Code to its revisions in the order they came; the site's own first."""
    people: Sequence[Person]
    practice: str | None
    """Code of the practice site beside this one, where there is one."""
    authorisations: Authorisations
    overdue: int
    """Temporary permissions that should have been reviewed by now."""


def read_ground(read: Read) -> GroundSheet:
    """The ground rules as they are now."""
    connection, site_id = read.connection, read.site.id
    codes = read_calendar_codes(connection, site_id)
    return GroundSheet(
        site=read.site,
        now_us=read.now_us,
        head_seq=read.head_seq,
        head_hash=read.head_hash,
        products=_products(read),
        stations=read_stations(connection, site_id),
        calendars={code: read_calendars(connection, site_id, code) for code in codes},
        people=read_people(connection, site_id),
        practice=practice_site_of(connection, site_id),
        authorisations=read_authorisations(read),
        overdue=count_overdue(read),
    )


def _products(read: Read) -> list[Product]:
    by_code: dict[str, list[Revision]] = {}
    for row in read_revisions(read.connection, read.site.id):
        by_code.setdefault(row.product, []).append(row)
    return [
        Product(code=code, now=in_force(rows, read.now_us), revisions=rows)
        for code, rows in sorted(by_code.items())
    ]


def read_route(read: Read, product: str, revision: str | None) -> tuple[Product, Revision]:
    """A product and one revision of its route card, else the one in force; raises Missing."""
    found = next((row for row in _products(read) if row.code == product), None)
    if found is None:
        raise Missing(f"there is no product {product} at this site")
    if revision is None:
        return found, found.now
    shown = next((row for row in found.revisions if row.revision == revision), None)
    if shown is None:
        raise Missing(f"{product} has no revision {revision}")
    return found, shown

"""Weld plans and rings, as the record has them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, select

from ringwright.core.facts import Registry
from ringwright.db import FOREVER_US
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import fetch_entries
from ringwright.welds.card import WeldPlan
from ringwright.welds.facts import FACTS, RingFact
from ringwright.welds.project import parsed_plan, plan_finder
from ringwright.welds.rules import fold
from ringwright.welds.state import Ring, ring_on
from ringwright.welds.tables import WeldPlanRevision, WeldRing

RING = RingFact.subject_kind
_REGISTRY = Registry()
_REGISTRY.register(*FACTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRevision:
    """A weld plan with when it takes effect and who set it."""

    plan: WeldPlan
    number: int
    effective_us: int
    known_us: int
    by: str


def read_plans(
    connection: Connection,
    site_id: int,
    product: str | None = None,
    known_before_us: int = FOREVER_US,
) -> list[PlanRevision]:
    """Revisions of weld plans, by product in the order they came; of one product if given."""
    table = WeldPlanRevision
    query = select(table).where(table.site_id == site_id, table.known_us < known_before_us)
    if product is not None:
        query = query.where(table.product == product)
    rows = connection.execute(query.order_by(table.product, table.number))
    return [
        PlanRevision(
            plan=parsed_plan(row.data),
            number=row.number,
            effective_us=row.effective_us,
            known_us=row.known_us,
            by=row.actor,
        )
        for row in rows
    ]


def plan_in_force(plans: Sequence[PlanRevision], at_us: int) -> WeldPlan | None:
    """The newest of one product's plans in effect at an instant; None before the first."""
    effective = [one for one in plans if one.effective_us <= at_us]
    newest = max(effective, key=lambda one: (one.effective_us, one.number), default=None)
    return newest.plan if newest else None


def read_ring(read: Read, serial: str) -> Ring | None:
    """The ring of a part as known; None where nothing was recorded of it by then."""
    return next(iter(read_rings(read, [serial])), None)


def read_rings(read: Read, serials: Sequence[str]) -> Iterable[Ring]:
    """The rings of parts as known, in the order asked; those without a fact are left out."""
    find = plan_finder(read.connection, read.site.id)
    found = fetch_entries(read.connection, _REGISTRY, read.site.id, RING, serials)
    for serial in serials:
        known = [
            entry for entry in found.get(serial, ()) if entry.known_us < read.known_before_us
        ]
        if known:
            yield fold(serial, known, find)


def open_serials(read: Read) -> list[str]:
    """Parts whose ring had begun and was perhaps not done, the one begun last first."""
    table = WeldRing
    query = (
        select(table.serial)
        .where(
            table.site_id == read.site.id,
            table.begun_us < read.known_before_us,
            table.done_us >= read.known_before_us,
        )
        .order_by(table.begun_us.desc(), table.serial)
    )
    return list(read.connection.execute(query).scalars())


def ring_or_fresh(ring: Ring | None, serial: str, plan: WeldPlan) -> Ring:
    """The ring, or one of which nothing is recorded yet."""
    return ring if ring is not None else ring_on(serial, plan)

"""Wall plans, sets of readings and the cases they are of, as known at a moment."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, or_, select

from ringwright.attachments.queries import read_attachments
from ringwright.core.errors import Refused
from ringwright.flow.queries import believed, instant_then
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, PartNow
from ringwright.wallmaps.rules import WallSet
from ringwright.wallmaps.tables import WallPlanRevision, WallReadSet
from ringwright.walls.packing import unpack
from ringwright.walls.plan import WallPlan
from ringwright.walls.reading import WallReading
from ringwright.walls.toml import plan_from


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanOnRecord:
    """A revision of a wall plan, with who set it, when, and why."""

    number: int
    plan: WallPlan
    known_us: int
    by: str
    reason: str


@lru_cache(maxsize=64)
def _plan_of(data: str) -> WallPlan:
    return plan_from(json.loads(data))


def read_plans(read: Read, product: str | None = None) -> dict[str, list[PlanOnRecord]]:
    """Product to the revisions of its wall plan in recorded order, as known then."""
    return plans_of_site(read.connection, read.site.id, read.known_before_us, product)


def plans_of_site(
    connection: Connection, site_id: int, known_before_us: int, product: str | None = None
) -> dict[str, list[PlanOnRecord]]:
    """The same of any site."""
    table = WallPlanRevision
    query = (
        select(table)
        .where(table.site_id == site_id, table.known_us < known_before_us)
        .order_by(table.product, table.number)
    )
    if product is not None:
        query = query.where(table.product == product)
    found: dict[str, list[PlanOnRecord]] = {}
    for row in connection.execute(query):
        one = PlanOnRecord(
            number=row.number,
            plan=_plan_of(row.data),
            known_us=row.known_us,
            by=row.actor,
            reason=row.reason,
        )
        found.setdefault(row.product, []).append(one)
    return found


def plan_in_force(plans: Sequence[PlanOnRecord], day: str) -> WallPlan | None:
    """The plan of a day (ISO, site time); of two of one day the later recorded."""
    known = [one for one in plans if one.plan.effective_from <= day]
    latest = max(known, key=lambda one: (one.plan.effective_from, one.number), default=None)
    return None if latest is None else latest.plan


def plan_of_set(plans: Sequence[PlanOnRecord], one: WallSet) -> WallPlan:
    """The revision that a set was judged by; raises Refused where it is not on record."""
    for known in reversed(plans):
        if known.plan.revision == one.revision:
            return known.plan
    raise Refused(f"wall plan {one.product} revision {one.revision} is not on record")


def read_sets(read: Read, *, serial: str | None = None, product: str = "") -> list[WallSet]:
    """Sets of readings in the order of time; of one case, of one product, or all."""
    table = WallReadSet
    query = (
        select(table)
        .where(table.site_id == read.site.id, table.known_us < read.known_before_us)
        .order_by(table.at_us, table.number)
    )
    if serial is not None:
        query = query.where(table.serial == serial)
    if product:
        query = query.where(table.product == product)
    return [_set_of(row, read.known_before_us) for row in read.connection.execute(query)]


def _set_of(row: Any, known_before_us: int) -> WallSet:
    """The set of a row, as it was known: what was withdrawn later still counted then."""
    names = WallSet.__dataclass_fields__
    found = WallSet(**{name: getattr(row, name) for name in names})
    known_us = found.withdrawn_known_us
    if known_us is not None and known_us >= known_before_us:
        nothing: dict[str, Any] = {"withdrawn": None, "withdrawn_known_us": None}
        return replace(found, **nothing, withdrawn_by="", withdrawn_why="")
    return found


def cases_in_work(read: Read, products: Collection[str]) -> set[str]:
    """Serials of these products that are neither released nor scrapped at the moment asked."""
    released = instant_then(read, Life.released_us, Life.released_known_us)
    scrapped = instant_then(read, Life.scrapped_us, Life.scrapped_known_us)
    query = select(Life.serial).where(
        believed(read, Life),
        Life.product.in_(list(products)),
        or_(released.is_(None), released >= read.now_us),
        or_(scrapped.is_(None), scrapped >= read.now_us),
    )
    return set(read.connection.execute(query).scalars())


def mark_of(read: Read, text: str) -> str:
    """What a part bears now, by its serial; anything else as it is."""
    query = select(PartNow.mark).where(PartNow.site_id == read.site.id, PartNow.serial == text)
    return read.connection.execute(query).scalar() or text


@lru_cache(maxsize=512)
def _unpacked(data: bytes) -> tuple[WallReading, ...]:
    return unpack(data)


def readings_of(read: Read, sets: Sequence[WallSet]) -> dict[str, tuple[WallReading, ...]]:
    """Digest to the readings kept under it."""
    digests = list(dict.fromkeys(one.digest for one in sets))
    kept = read_attachments(read.connection, read.site.id, digests)
    return {digest: _unpacked(content.data) for digest, content in kept.items()}

"""One older week that the supervisor published on the Monday after, as it stood then."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Final

from sqlalchemy import select

from ringwright.core.calendar import HOUR_US, week_of, week_window
from ringwright.flow.facts import WeekPublished
from ringwright.flow.service import read_week_numbers, week_json
from ringwright.ledger.service import Handling, Read
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import Draft, Tx
from seed_demo.facts import SUBJECT
from seed_demo.office import DAY_US, WEEK_US
from seed_demo.plant import PRODUCTS
from seed_demo.telling import demo_allowed

PUBLISHED: Final = 22
"""The week that was published, counted from 0: the one before the last four."""
ON_MONDAY_US: Final = 8 * HOUR_US + HOUR_US // 4


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishThen:
    """Publish that week of every product as the supervisor did."""

    operation: ClassVar[str] = "publish demo"
    start_us: int
    key: str | None = "demo-published"

    def body(self) -> Any:
        """When the story began."""
        return self.start_us

    def subject(self) -> str:
        """The demo."""
        return SUBJECT


def as_of(tx: Tx, at_us: int) -> Read:
    """The record as it was known then."""
    query = (
        select(Event.site_seq, Event.hash)
        .where(
            Event.site_id == tx.site.id,
            Event.subject_kind == "part",
            Event.known_at_us < at_us,
        )
        .order_by(Event.site_seq.desc())
        .limit(1)
    )
    head = tx.connection.execute(query).one()
    return Read(
        connection=tx.connection,
        site=tx.site,
        now_us=at_us,
        as_of_us=at_us,
        head_seq=head.site_seq,
        head_hash=bytes(head.hash).hex(),
    )


def publish_then(tx: Tx, command: PublishThen) -> dict[str, Any]:
    """Record the numbers with what was known on that Monday, and the entry they stood on."""
    midweek_us = command.start_us + PUBLISHED * WEEK_US + 3 * DAY_US
    week = week_of(midweek_us, tx.site.zone, tx.site.week_starts)
    at_us = week_window(week, tx.site.zone, tx.site.week_starts)[1] + ON_MONDAY_US
    read = as_of(tx, at_us)
    for product in PRODUCTS:
        fact = WeekPublished(
            numbers=week_json(read_week_numbers(read, product, week)),
            head_seq=read.head_seq,
            head_hash=read.head_hash,
        )
        tx.append(
            Draft(
                fact=fact,
                subject=f"{product} {week}",
                at_us=at_us,
                known_us=at_us,
                actor="supervisor",
            )
        )
    return {"week": week}


HANDLINGS: dict[type, Handling] = {PublishThen: Handling(publish_then, demo_allowed)}

"""A record as long as one asks for, of a works whose weeks are all alike.

Written through the ledger's own `append_many`, with chain and projections, some thousand parts
to a transaction: each part's whole story stands in one, so nothing has to be read back.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any, ClassVar

from benchmarks.works import UNITS_PER_WEEK, units
from benchmarks.works_rules import CODE, HUB, SPOKE, WHEEL, route_toml, site_toml
from benchmarks.works_runs import READINGS
from benchmarks.works_told import Told
from ringwright.assembly import SYSTEM, open_ledger
from ringwright.attachments.rules import TRACE_MEDIA
from ringwright.attachments.service import keep
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.db import Store
from ringwright.ledger.migrate import migrate
from ringwright.ledger.service import Handling, Ledger
from ringwright.ledger.transaction import Draft, Tx
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site

NOW = "2026-10-01T12:00:00+02:00"
EVENTS_OF_UNIT = 168
UNITS_AT_ONCE = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Tell:
    """Record what happened, as it happened; the rules are kept by whoever tells."""

    operation: ClassVar[str] = "tell"
    told: list[Told]
    readings: bytes = b""
    """A recorder's readings to keep beside the facts that name them."""
    key: str | None = None

    def body(self) -> Any:
        """Unused: it has no key."""

    def subject(self) -> str:
        """Nothing single."""
        return "everything"


def tell(tx: Tx, command: Tell) -> dict[str, Any]:
    """Append in the order in which things happened."""
    if command.readings:
        keep(tx, command.readings, TRACE_MEDIA)
    told = sorted(command.told, key=lambda one: one.at_us)
    for seq, one in enumerate(told, tx.head_seq + 1):
        one.seq = seq
    tx.append_many(map(_draft, told), {})
    return {"added": len(told)}


def _draft(one: Told) -> Draft:
    fact = one.fact
    if callable(fact):
        assert one.about is not None
        fact = fact(one.about.seq)
    return Draft(
        fact=fact,
        subject=one.subject,
        at_us=one.at_us,
        known_us=one.at_us,
        key=f"told-{one.seq}",
        actor=one.actor,
        station=one.station,
        corrects=one.about.seq if one.corrects and one.about else None,
    )


def open_works(url: str) -> Ledger:
    """The record of the works in a migrated store, at a fixed moment."""
    ledger = open_ledger(Store(url), FixedClock(parse_instant(NOW)))
    ledger.teach({Tell: Handling(tell, lambda _command, _actor: True)})
    return ledger


def fill(url: str, events: int) -> tuple[int, float]:
    """Fill an empty store with about so many events; (events there, seconds it took)."""
    migrate(url)
    ledger = open_works(url)
    begun = time.perf_counter()
    ledger.open_site(CODE)
    ledger.execute(CODE, ExtendSite(file=parse_site(site_toml(), "site")), SYSTEM)
    for product in (SPOKE, HUB, WHEEL):
        card = parse_route(route_toml(product), product.code)
        ledger.execute(CODE, LoadRoute(card=card), SYSTEM)
    ledger.execute(CODE, Tell(told=[], readings=READINGS), SYSTEM)
    weeks = max(events // (EVENTS_OF_UNIT * UNITS_PER_WEEK), 1)
    gc.disable()  # nothing here is cyclic
    try:
        for told in _batches(units(weeks, parse_instant(NOW))):
            ledger.execute(CODE, Tell(told=told), SYSTEM)
    finally:
        gc.enable()
    seq, _ = ledger.head(CODE)
    ledger.store.close()
    return seq, time.perf_counter() - begun


def _batches(every: Iterable[list[Told]]) -> Iterator[list[Told]]:
    source = iter(every)
    while some := list(islice(source, UNITS_AT_ONCE)):
        yield [one for unit in some for one in unit]

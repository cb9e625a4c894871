"""Where the rooms meet: which facts, projectors and commands this installation knows."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import Connection, select

from ringwright.bench import acts, correcting, genealogy
from ringwright.bench import service as bench
from ringwright.bench.history import LoadHistory, load_history
from ringwright.core.clock import Clock, clock_from
from ringwright.core.facts import Registry
from ringwright.db import Store
from ringwright.floor import service as floor
from ringwright.flow.facts import WeekPublished
from ringwright.flow.project import PublishedProjector
from ringwright.flow.publishing import HANDLINGS as PUBLISHING
from ringwright.ledger.migrate import migrate
from ringwright.ledger.projecting import Projecting
from ringwright.ledger.rebuild import rebuild, rebuild_stale
from ringwright.ledger.service import (
    BARE_SITE,
    Allows,
    Answer,
    Handler,
    Handling,
    Ledger,
    Rooms,
)
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import Actor, fetch_entries
from ringwright.parts.facts import FACTS as PART_FACTS
from ringwright.parts.knowledge import fold
from ringwright.parts.project import PartProjector
from ringwright.people.rules import may
from ringwright.routecards.facts import RouteRevised
from ringwright.routecards.project import RouteProjector
from ringwright.routecards.queries import card_finder
from ringwright.routecards.service import LoadRoute, load_route
from ringwright.settings import Settings
from ringwright.sites import facts as sites
from ringwright.sites.project import PROJECTORS as SITE_PROJECTORS
from ringwright.sites.queries import read_site
from ringwright.sites.service import ExtendSite, SetGroundRule, extend_site, set_ground_rule
from ringwright.sites.site import Person, SiteFile
from ringwright.trace import service as trace
from seed_demo.facts import FACTS as DEMO_FACTS

PROJECTORS = (*SITE_PROJECTORS, RouteProjector(), PartProjector(), PublishedProjector())
"""In the order a replay needs them: route cards before parts."""

SYSTEM = Actor(code="command-line", roles=frozenset({"administrator"}))
"""Who acts when a command is run on the machine that holds the store."""


def registry() -> Registry:
    """All facts known."""
    known = Registry()
    known.register(*PART_FACTS, *sites.FACTS, RouteRevised, WeekPublished, *DEMO_FACTS)
    return known


def handlings() -> dict[type, Handling]:
    """How each command is done, and who may ask for it."""
    rules: dict[type, tuple[Handler, str]] = {
        ExtendSite: (extend_site, "load"),
        LoadRoute: (load_route, "load"),
        LoadHistory: (load_history, "load"),
        SetGroundRule: (set_ground_rule, "ground rules"),
    }
    found: dict[type, Handling] = {
        command: Handling(handler, _allows(permission))
        for command, (handler, permission) in rules.items()
    }
    return {
        **found,
        **bench.HANDLINGS,
        **acts.HANDLINGS,
        **genealogy.HANDLINGS,
        **correcting.HANDLINGS,
        **floor.HANDLINGS,
        **trace.HANDLINGS,
        **PUBLISHING,
        **trace.HANDLINGS,
    }


def _allows(permission: str) -> Allows:
    def check(_command: object, actor: Actor) -> bool:
        return may(permission, actor.roles)

    return check


def _late_answer(connection: Connection, site_id: int, site_seq: int) -> Answer:
    """The answer to a key that came from a file: the event, and where its part stands now."""
    row = connection.execute(
        select(Event.subject, Event.key, Event.zone).where(
            Event.site_id == site_id, Event.site_seq == site_seq
        )
    ).one()
    entries = fetch_entries(connection, registry(), site_id, "part", [row.subject])[row.subject]
    entry = next(entry for entry in entries if entry.seq == site_seq)
    part = fold(row.subject, entries, card_finder(connection, site_id))
    return {
        "event": bench.event_view(entry, row.subject, row.key, row.zone),
        "part": bench.part_view(part),
    }


def bring_up(url: str, say: Callable[[str], None] = lambda _text: None) -> None:
    """Bring a store to the newest schema, and its projections to the form written now."""
    migrate(url)
    store = Store(url)
    try:
        rebuild_stale(store, registry(), Projecting(PROJECTORS), say)
    finally:
        store.close()


def rebuild_all(ledger: Ledger, say: Callable[[str], None]) -> int:
    """Write every projection anew from the record; the number of events folded."""
    return rebuild(ledger.store, ledger.registry, ledger.projecting, say)


def open_ledger(store: Store, clock: Clock | None = None) -> Ledger:
    """The record of a store, with everything this installation knows."""
    rooms = Rooms(
        registry=registry(),
        projectors=PROJECTORS,
        handlings=handlings(),
        read_site=read_site,
        late_answer=_late_answer,
    )
    return Ledger(store, rooms, clock)


def ledger_of(settings: Settings) -> Ledger:
    """The record the settings point at."""
    return open_ledger(Store(settings.database_url), clock_from(settings.now))


def ensure_site(ledger: Ledger, settings: Settings) -> None:
    """An empty store gets one bare site, in the zone of the settings, and its administrator."""
    if ledger.heads():
        return
    ledger.open_site(BARE_SITE)
    administrator = Person(code="administrator", roles=("administrator",))
    file = SiteFile(
        code=BARE_SITE, name="Unnamed site", zone=settings.zone, people=(administrator,)
    )
    ledger.execute(BARE_SITE, ExtendSite(file=file), SYSTEM)

"""Where the rooms meet: which facts, projectors and commands this installation knows."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import Connection

from ringwright.core.clock import Clock, clock_from
from ringwright.core.facts import Registry
from ringwright.db import Store
from ringwright.flow.facts import WeekPublished
from ringwright.flow.project import PublishedProjector
from ringwright.furnaces.facts import FACTS as FURNACE_FACTS
from ringwright.furnaces.project import PROJECTORS as FURNACE_PROJECTORS
from ringwright.handover.facts import FACTS as HANDOVER_FACTS
from ringwright.handover.project import PROJECTORS as HANDOVER_PROJECTORS
from ringwright.ledger.migrate import migrate
from ringwright.ledger.projecting import Projecting
from ringwright.ledger.rebuild import rebuild, rebuild_stale
from ringwright.ledger.service import (
    BARE_SITE,
    Answer,
    Handling,
    Ledger,
    Rooms,
)
from ringwright.ledger.transaction import Actor
from ringwright.machines.facts import FACTS as MACHINE_FACTS
from ringwright.machines.project import PROJECTORS as MACHINE_PROJECTORS
from ringwright.material.facts import FACTS as MATERIAL_FACTS
from ringwright.material.project import PROJECTORS as MATERIAL_PROJECTORS
from ringwright.paper.facts import FACTS as PAPER_FACTS
from ringwright.parts.facts import FACTS as PART_FACTS
from ringwright.parts.project import PartProjector
from ringwright.people.facts import FACTS as PEOPLE_FACTS
from ringwright.people.project import PROJECTORS as PEOPLE_PROJECTORS
from ringwright.routecards.facts import RouteRevised
from ringwright.routecards.project import RouteProjector
from ringwright.sets.facts import FACTS as SET_FACTS
from ringwright.sets.project import PROJECTORS as SET_PROJECTORS
from ringwright.settings import Settings
from ringwright.sites import facts as sites
from ringwright.sites.project import PROJECTORS as SITE_PROJECTORS
from ringwright.sites.queries import read_site
from ringwright.wallmaps.facts import FACTS as WALL_FACTS
from ringwright.wallmaps.project import PROJECTORS as WALL_PROJECTORS
from ringwright.welds.facts import FACTS as WELD_FACTS
from ringwright.welds.project import PROJECTORS as WELD_PROJECTORS
from seed_demo.facts import FACTS as DEMO_FACTS

PROJECTORS = (
    *SITE_PROJECTORS,
    RouteProjector(),
    PartProjector(),
    PublishedProjector(),
    *SET_PROJECTORS,
    *PEOPLE_PROJECTORS,
    *FURNACE_PROJECTORS,
    *HANDOVER_PROJECTORS,
    *MACHINE_PROJECTORS,
    *WELD_PROJECTORS,
    *WALL_PROJECTORS,
    *MATERIAL_PROJECTORS,
)
"""In the order a replay needs them: route cards before parts, weld plans before rings."""

SYSTEM = Actor(code="command-line", roles=frozenset({"administrator"}))
"""Who acts when a command is run on the machine that holds the store."""


def registry() -> Registry:
    """All facts known."""
    known = Registry()
    known.register(*PART_FACTS, *sites.FACTS, RouteRevised, WeekPublished)
    known.register(*SET_FACTS, *PEOPLE_FACTS, *PAPER_FACTS, *FURNACE_FACTS, *DEMO_FACTS)
    known.register(*HANDOVER_FACTS, *WALL_FACTS, *MATERIAL_FACTS, *MACHINE_FACTS, *WELD_FACTS)
    return known


def _handlings() -> dict[type, Handling]:
    from ringwright.handlings import handlings

    return handlings()


def _late_answer(connection: Connection, site_id: int, site_seq: int) -> Answer:
    from ringwright.handlings import late_answer

    return late_answer(connection, site_id, site_seq)


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
        handlings=_handlings,
        read_site=read_site,
        late_answer=_late_answer,
    )
    return Ledger(store, rooms, clock)


def ledger_of(settings: Settings) -> Ledger:
    """The record the settings point at."""
    return open_ledger(Store(settings.database_url), clock_from(settings.now))


def ensure_site(ledger: Ledger, settings: Settings) -> None:
    """An empty store gets one bare site, in the zone of the settings, and its administrator."""
    from ringwright.sites.service import ExtendSite
    from ringwright.sites.site import Person, SiteFile

    if ledger.heads():
        return
    ledger.open_site(BARE_SITE)
    administrator = Person(code="administrator", roles=("administrator",))
    file = SiteFile(
        code=BARE_SITE, name="Unnamed site", zone=settings.zone, people=(administrator,)
    )
    ledger.execute(BARE_SITE, ExtendSite(file=file), SYSTEM)

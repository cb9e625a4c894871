"""What can be commanded: every command, how it is done, who may ask for it.

Commands that only read never load this: half of a start would go into it.
"""

from __future__ import annotations

from sqlalchemy import Connection, select

from ringwright.assembly import registry
from ringwright.bench import acts, attaching, correcting, genealogy
from ringwright.bench import service as bench
from ringwright.bench.history import LoadHistory, load_history
from ringwright.floor import service as floor
from ringwright.flow.publishing import HANDLINGS as PUBLISHING
from ringwright.furnaces import service as furnaces
from ringwright.gauges import service as gauges
from ringwright.gauges import studies
from ringwright.ground.practice import Practise, practise
from ringwright.handover import service as handover
from ringwright.heatruns import review as heatruns
from ringwright.ledger.service import Answer, Handler, Handling
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import fetch_entries
from ringwright.machines import service as machines
from ringwright.material import service as material
from ringwright.paper import service as paper
from ringwright.parts.knowledge import fold
from ringwright.people import permits
from ringwright.people.allowing import allows
from ringwright.ringtest import service as ringtest
from ringwright.routecards.queries import card_finder
from ringwright.routecards.service import LoadRoute, load_route
from ringwright.sets import building
from ringwright.sets import service as sets
from ringwright.sites.authorising import Authorise, Withdraw, authorise, withdraw
from ringwright.sites.service import ExtendSite, SetGroundRule, extend_site, set_ground_rule
from ringwright.trace import service as trace
from ringwright.wallmaps import service as wallmaps
from ringwright.weighing import service as weighing
from ringwright.weldmaps import service as weldmaps
from ringwright.welds import service as welds


def handlings() -> dict[type, Handling]:
    """How each command is done, and who may ask for it."""
    rules: dict[type, tuple[Handler, str]] = {
        ExtendSite: (extend_site, "load"),
        LoadRoute: (load_route, "load"),
        LoadHistory: (load_history, "load"),
        SetGroundRule: (set_ground_rule, "ground rules"),
        Practise: (practise, "load"),
        Authorise: (authorise, "authorise"),
        Withdraw: (withdraw, "authorise"),
    }
    found: dict[type, Handling] = {
        command: Handling(handler, allows(permission))
        for command, (handler, permission) in rules.items()
    }
    return {
        **found,
        **bench.HANDLINGS,
        **acts.HANDLINGS,
        **genealogy.HANDLINGS,
        **attaching.HANDLINGS,
        **correcting.HANDLINGS,
        **floor.HANDLINGS,
        **trace.HANDLINGS,
        **gauges.HANDLINGS,
        **studies.HANDLINGS,
        **furnaces.HANDLINGS,
        **heatruns.HANDLINGS,
        **weighing.HANDLINGS,
        **paper.HANDLINGS,
        **ringtest.HANDLINGS,
        **PUBLISHING,
        **sets.HANDLINGS,
        **building.HANDLINGS,
        **permits.HANDLINGS,
        **handover.HANDLINGS,
        **machines.HANDLINGS,
        **welds.HANDLINGS,
        **weldmaps.HANDLINGS,
        **wallmaps.HANDLINGS,
        **material.HANDLINGS,
    }


def late_answer(connection: Connection, site_id: int, site_seq: int) -> Answer:
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

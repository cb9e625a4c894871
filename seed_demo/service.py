"""Load the invented factory into an empty store, and tell it on to now at every start."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.core.instants import site_time
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor, fetch_entries
from ringwright.people.contacts import Contact, keep_contact
from ringwright.people.demo import make_demo_accounts
from ringwright.people.permits import SetCallout
from ringwright.routecards.service import LoadRoute
from ringwright.sites.service import ExtendSite
from ringwright.sites.site import ROLES
from seed_demo.facts import SUBJECT, DemoOpened, DemoTold
from seed_demo.gauges import with_gauges
from seed_demo.office import WEEK_US
from seed_demo.papers import CALLED, PHONES, demo_papers
from seed_demo.planning import HANDLINGS as PLANNING
from seed_demo.planning import plan_of_week
from seed_demo.plant import demo_routes, demo_site
from seed_demo.publishing import HANDLINGS as PUBLISHING
from seed_demo.publishing import PUBLISHED, PublishThen
from seed_demo.second import listen, whole_story
from seed_demo.story import STORY, WEEKS_BEFORE, Week, history_start, opening, tell_weeks
from seed_demo.telling import (
    HANDLINGS,
    TELLER,
    OpenDemo,
    TellStory,
    digest_of,
    read_spoken,
    unpack,
)

SEED = 1
ALONE_US = 4 * WEEK_US
"""A shorter story is told by one process; a second one would only just have begun."""
ADMINISTRATOR = Actor(code="administrator", roles=frozenset({"administrator"}))
"""Who sets up the site and its route cards in the story."""

Say = Callable[[str], None]


def run_demo(
    ledger: Ledger, say: Say, weeks: int = WEEKS_BEFORE, shown_us: int | None = None
) -> None:
    """Load the demo into an empty store, or tell a demo store's story on to now.

    `weeks` whole weeks of history stand before the week in which it is loaded. What should be
    seen on the first day is planned for `shown_us` (None: now).
    A store with a record of its own is left alone. Parts that somebody booked on by hand are
    theirs from then on: the story does not touch them again.
    """
    ledger.teach({**HANDLINGS, **PUBLISHING, **PLANNING})
    if not ledger.heads():
        _open(ledger, say, weeks, shown_us or ledger.clock.now_us())
    for code in ledger.heads(practice=False):
        record = _record(ledger, code)
        if not record:
            continue
        opened = record[0]
        if opened.kind != DemoOpened.kind or opened.data["story"] != STORY:
            say("This store holds the demo of another version; it stays as it is.")
            say("  For the new one, start with an empty store (RINGWRIGHT_DATABASE_URL).")
            continue
        _tell(ledger, code, record, say)
        make_demo_accounts(ledger, code, ROLES)


def _open(ledger: Ledger, say: Say, weeks: int, shown_us: int) -> None:
    say("Building the demo, Holmfell Rotor Works …")
    site = demo_site()
    today = site_time(ledger.clock.now_us(), site.zone).date()
    site = replace(site, authorisations=demo_papers(today))
    site = with_gauges(site, demo_routes(), today)
    ledger.open_site(site.code)
    ledger.execute(site.code, ExtendSite(file=site), ADMINISTRATOR)
    _set_callout(ledger, site.code)
    for card in demo_routes():
        ledger.execute(site.code, LoadRoute(card=card), ADMINISTRATOR)
    start_us = history_start(ledger.clock.now_us(), weeks)
    command = OpenDemo(seed=SEED, start_us=start_us, story=STORY, shown_us=shown_us)
    ledger.execute(site.code, command, TELLER)


def _set_callout(ledger: Ledger, code: str) -> None:
    for role, people in CALLED.items():
        ledger.execute(code, SetCallout(role=role, people=people, key=None), ADMINISTRATOR)
    with ledger.read(code) as read:
        site_id = read.site.id
    for person, phone in PHONES.items():
        keep_contact(ledger.store, site_id, Contact(code=person, phone=phone))


def _record(ledger: Ledger, code: str) -> list[Entry]:
    with ledger.read(code) as read:
        found = fetch_entries(
            read.connection, ledger.registry, read.site.id, SUBJECT, [SUBJECT]
        )
    return found.get(SUBJECT, [])


def _tell(ledger: Ledger, code: str, record: list[Entry], say: Say) -> None:
    opened, tellings = record[0], [entry for entry in record if entry.kind == DemoTold.kind]
    seed, until_us = opened.data["seed"], ledger.clock.now_us()
    say("Telling the demo's story on to now …")
    if not tellings:
        start_us = opened.data["start_us"]
        tell = listen if until_us - start_us > ALONE_US else whole_story
        begun = opening(start_us, opened.data["shown_us"])
        weeks: Iterable[Week] = tell(seed, begun, until_us)
        known = (-1, 0)
    else:
        last = tellings[-1].data
        known = (last["week"], last["facts"])
        weeks = tell_weeks(seed, _kept(tellings, last["week"]), until_us)
        weeks = _agreeing(weeks, last)
    with ledger.read(code) as read:
        spoken = read_spoken(read, opened.seq, tellings)
    command = TellStory(
        record=len(record),
        weeks=weeks,
        known=known,
        spoken=spoken,
        fresh=not tellings and not spoken,
    )
    try:
        with _no_sweeping():
            answer = ledger.execute(code, command, TELLER)
    except Refused as refusal:
        # A newer program may tell the story otherwise; what is recorded stays as it is.
        say(f"  {refusal.message}; the demo stays as it was.")
        return
    say(f"  {answer['added']:,} events added.")
    if until_us > opened.data["start_us"] + (PUBLISHED + 2) * WEEK_US:
        ledger.execute(code, PublishThen(start_us=opened.data["start_us"]), TELLER)
    plan = plan_of_week(until_us, demo_site().zone)
    if plan is not None and until_us > opened.data["start_us"] + WEEK_US:
        ledger.execute(code, plan, TELLER)


def _kept(tellings: list[Entry], week: int) -> str:
    kept = [
        entry.data["kept"]
        for entry in tellings
        if entry.data["week"] == week and entry.data.get("kept")
    ]
    return unpack(kept[-1])


def _agreeing(weeks: Iterable[Week], last: Any) -> Iterator[Week]:
    """The weeks, if the first begins as it was told before; raises Refused otherwise."""
    for week in weeks:
        if (
            week.number == last["week"]
            and digest_of(week.told[: last["facts"]]) != last["digest"]
        ):
            raise Refused("the story told now differs from the one recorded")
        yield week


@contextmanager
def _no_sweeping() -> Iterator[None]:
    """A quarter of a million facts are made and kept: looking for rubbish finds none."""
    swept = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if swept:
            gc.enable()

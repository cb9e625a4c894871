"""Load the invented factory into an empty store, and run it on to now at every start."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from itertools import islice
from typing import Any, ClassVar

from sqlalchemy import select

from ringwright.bench.history import LoadHistory
from ringwright.core.errors import BadRows
from ringwright.demo.facts import DemoBegun
from ringwright.demo.simulate import history_start, simulate
from ringwright.ledger.service import Handling, Ledger
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import Actor, Draft, Tx, fetch_entries
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site

ROUTES = ("HF22-BLADE.toml", "HF22-CASE.toml", "PT68-BLADE.toml")
SEED = 1
SUBJECT = "demo"
KEYS = "demo-"
TELLER = Actor(code="demo", roles=frozenset({"administrator"}))

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class BeginDemo:
    """Mark the store as the demo's, with the moment its story starts."""

    operation: ClassVar[str] = "begin demo"
    seed: int
    start_us: int
    key: str | None = "demo-begun"

    def body(self) -> Any:
        """Seed and start."""
        return [self.seed, self.start_us]

    def subject(self) -> str:
        """The demo."""
        return SUBJECT


def begin_demo(tx: Tx, command: BeginDemo) -> dict[str, Any]:
    """Record where the story begins."""
    fact = DemoBegun(seed=command.seed, start_us=command.start_us)
    tx.append(Draft(fact=fact, subject=SUBJECT, at_us=tx.now_us))
    return {"start_us": command.start_us}


def demo_allowed(_command: BeginDemo, actor: Actor) -> bool:
    """Only the program itself tells the story."""
    return actor is TELLER


HANDLINGS: dict[type, Handling] = {BeginDemo: Handling(begin_demo, demo_allowed)}


def run_demo(ledger: Ledger, say: Say) -> None:
    """Load the demo into an empty store, or tell a demo store's story on to now.

    A store with a record of its own is left alone. Parts that somebody booked on by hand are
    theirs from then on: the story does not touch them again.
    """
    ledger.teach(HANDLINGS)
    if not ledger.heads():
        _open(ledger, say)
    for code in ledger.heads():
        begun = _begun(ledger, code)
        if begun is not None:
            _tell(ledger, code, begun, say)


def _open(ledger: Ledger, say: Say) -> None:
    say("Building the demo, Holmfell Rotor Works …")
    here = files("ringwright.demo")
    site = parse_site(here.joinpath("site.toml").read_text(encoding="utf-8"), "site.toml")
    ledger.open_site(site.code)
    ledger.execute(site.code, ExtendSite(file=site), TELLER)
    for name in ROUTES:
        card = parse_route(here.joinpath(name).read_text(encoding="utf-8"), name)
        ledger.execute(site.code, LoadRoute(card=card), TELLER)
    start_us = history_start(ledger.clock.now_us())
    ledger.execute(site.code, BeginDemo(seed=SEED, start_us=start_us), TELLER)


def _begun(ledger: Ledger, code: str) -> Any:
    with ledger.read(code) as read:
        found = fetch_entries(
            read.connection, ledger.registry, read.site.id, SUBJECT, [SUBJECT]
        )
    return found[SUBJECT][0].data if found else None


def _told(ledger: Ledger, code: str) -> int:
    """How many rows of the story are in the record: rows come in order, numbered by key."""
    with ledger.read(code) as read:
        query = (
            select(Event.key)
            .where(Event.site_id == read.site.id, Event.key.like(f"{KEYS}%"))
            .order_by(Event.site_seq.desc())
            .limit(1)
        )
        last = read.connection.execute(query).scalar()
    return int(last.removeprefix(KEYS)) if last else 0


def _tell(ledger: Ledger, code: str, begun: Any, say: Say) -> None:
    until_us = ledger.clock.now_us()
    say("Telling the demo's story on to now …")
    story = simulate(seed=begun["seed"], start_us=begun["start_us"], until_us=until_us)
    # The story always begins alike, so what was told before need not be looked at again.
    rows = enumerate(islice(story, _told(ledger, code), None), start=2)
    command = LoadHistory(rows=rows, own_keys=KEYS, say=lambda text: say(f"  {text}"))
    try:
        answer = ledger.execute(code, command, TELLER)
    except BadRows:
        # A newer program may tell the story otherwise; what is recorded stays as it is.
        say("  The story told now differs from the one recorded; the demo stays as it was.")
        return
    say(f"  {answer['added']:,} events added.")

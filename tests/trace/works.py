"""A small works with two furnaces, lots and gauges, for tests of what a suspect touched."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.db import Store
from ringwright.ledger.service import Command, Ledger
from ringwright.ledger.transaction import Actor
from ringwright.parts.queries import PartCard, read_events, read_part
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from ringwright.trace.question import Question, read_question
from ringwright.trace.service import Contain, plans_of
from ringwright.trace.touched import Touched, read_touched

CODE, ZONE = "ULVIK", "Europe/Oslo"
NOW = "2026-10-01T12:00:00+02:00"
PEOPLE = (
    ("mk-1", "maker"),
    ("in-1", "inspector"),
    ("sv-1", "supervisor"),
    ("qe-1", "quality-engineer"),
    ("mn-1", "manager"),
)
SITE = """
[site]
code = "ULVIK"
name = "Ulvik Plate Works"
zone = "Europe/Oslo"
[[station]]
code = "INF-1"
name = "Furnace 1"
group = "furnace"
[[station]]
code = "INF-2"
name = "Furnace 2"
group = "furnace"
""" + "".join(f'[[person]]\ncode = "{code}"\nroles = ["{role}"]\n' for code, role in PEOPLE)
ROUTE = """
[product]
code = "PLATE"
name = "Hollow plate"
family = "fan-blade"
[[step]]
number = 10
name = "Clean"
kind = "cleaning"
[[step]]
number = 20
name = "Inflate"
kind = "heat-cycle"
[[step]]
number = 30
name = "Wall check"
kind = "inspection"
[[step.characteristic]]
code = "wall"
unit = "mm"
lower = 1.0
upper = 2.0
decimals = 2
"""
COLUMNS = (
    "at", "serial", "product", "act", "step", "outcome", "defect", "characteristic", "value",
    "unit", "lot", "station", "by", "reason",
)  # fmt: skip
HEADER = ",".join(COLUMNS) + "\n"
QUALITY = Actor(code="qe-1", roles=frozenset({"quality-engineer"}))
MANAGER = Actor(code="mn-1", roles=frozenset({"manager"}))
SUPERVISOR = Actor(code="sv-1", roles=frozenset({"supervisor"}))
MAKER = Actor(code="mk-1", roles=frozenset({"maker"}))


def line(at: str, serial: str, act: str, **given: Any) -> str:
    """One row of a history, in the order of its heading."""
    row = {"at": f"2026-{at}+02:00", "serial": serial, "product": "PLATE", "act": act, **given}
    return ",".join(str(row.get(name, "")) for name in COLUMNS) + "\n"


def plate(
    serial: str, day: str, station: str = "INF-1", *, lot: str = "", until: str = "30"
) -> str:
    """A plate cleaned at 7, inflated from 9 to 11 on a day, and checked at 13 if it got there.

    `until`: "20" leaves it waiting for its check; "sent" and "scrap" end it so.
    """
    rows = [
        line(f"{day}T06:00", serial, "create", lot=lot),
        line(f"{day}T07:00", serial, "begin", step=10, by="mk-1"),
        line(f"{day}T08:00", serial, "end", step=10, outcome="pass", by="mk-1"),
        line(f"{day}T09:00", serial, "begin", step=20, station=station, by="mk-1"),
        line(f"{day}T11:00", serial, "end", step=20, outcome="pass", station=station),
    ]
    if until == "20":
        return "".join(rows)
    outcome = "scrap" if until == "scrap" else "pass"
    defect = "thin wall" if until == "scrap" else ""
    rows += [
        line(f"{day}T13:00", serial, "begin", step=30, by="in-1"),
        line(f"{day}T13:30", serial, "end", step=30, outcome=outcome, defect=defect),
    ]
    if until == "sent":
        rows.append(line(f"{day}T15:00", serial, "send", step=30))
    return "".join(rows)


STORY = "".join(
    (
        plate("A-1", "09-21", lot="L-1", until="sent"),
        plate("A-2", "09-21", lot="L-1", until="scrap"),
        plate("A-3", "09-22", lot="L-2"),
        plate("A-4", "09-23", lot="L-2", until="20"),
        plate("A-5", "09-23", "INF-2", lot="L-1", until="20"),
        plate("A-6", "09-24", lot="L-2", until="20"),
    )
)
"""A-1, A-2, A-3, A-4, A-6 went through INF-1, A-5 through INF-2."""


@dataclass
class Works:
    """The works' record and its clock, which goes on a minute at each command."""

    ledger: Ledger
    clock: FixedClock
    keys: Iterable[int] = field(default_factory=lambda: itertools.count(1))

    def do(self, command: Command, who: Actor = QUALITY) -> dict[str, Any]:
        """Run one command, a minute after the one before it."""
        self.clock.at_us += 60_000_000
        return self.ledger.execute(CODE, command, who)

    def load(self, rows: str) -> None:
        """Load more history."""
        self.do(LoadHistory(rows=read_csv(HEADER + rows)), SYSTEM)

    def key(self) -> str:
        """A key nobody used yet."""
        return f"key-{next(iter(self.keys))}"

    def touched(self, *as_of_us: int, **asked: str) -> Touched:
        """What a question's suspect touched, now or as known at a moment."""
        with self.ledger.read(CODE, *as_of_us) as read:
            return read_touched(read, question(**asked))

    def containing(self, reason: str = "survey failed", **asked: str) -> Contain:
        """The command that a preview drawn now would send."""
        plans = plans_of(self.touched(**asked))
        return Contain(key=self.key(), reason=reason, question=question(**asked), plans=plans)

    def contain(self, reason: str = "survey failed", **asked: str) -> dict[str, Any]:
        """Contain what a question's suspect touched."""
        return self.do(self.containing(reason, **asked))

    def part(self, serial: str) -> PartCard:
        """Where a part stands."""
        with self.ledger.read(CODE) as read:
            return read_part(read, serial)

    def kinds(self, serial: str) -> list[str]:
        """What was booked on a part, in order."""
        with self.ledger.read(CODE) as read:
            return [row.kind for row in read_events(read, serial)]


def question(**asked: str) -> Question:
    """A question as an address asks it; `since` and `until` are its from and to."""
    named = {"since": "from", "until": "to"}
    found = read_question({named.get(name, name): text for name, text in asked.items()}, ZONE)
    assert found is not None
    return found


def open_works(url: str, story: str = STORY) -> Works:
    """The works' record in an empty, migrated store, at noon of Thursday 1 October 2026."""
    clock = FixedClock(parse_instant(NOW))
    works = Works(open_ledger(Store(url), clock), clock)
    works.ledger.open_site(CODE)
    works.ledger.execute(CODE, ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
    works.ledger.execute(CODE, LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)
    if story:
        works.load(story)
    return works

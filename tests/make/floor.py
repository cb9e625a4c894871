"""A small floor to book on: one site, one product, people of every role, a clock to set."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import func, select

from ringwright.assembly import SYSTEM
from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.core.clock import Clock, FixedClock
from ringwright.core.instants import parse_instant
from ringwright.ledger.service import Command, Ledger
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import Actor
from ringwright.parts.queries import PartCard, read_part
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from tests.make.kept import opened

CODE = "SKARVIK"
START = "2026-09-28T06:00:00+02:00"
MINUTE_US = 60_000_000
INSPECTORS = 16
SITE = """
[site]
code = "SKARVIK"
name = "Skarvik Blade Hall"
zone = "Europe/Oslo"
""" + "".join(
    f'[[person]]\ncode = "{code}"\nroles = ["{role}"]\n'
    for code, role in (
        ("maker-1", "maker"),
        ("maker-2", "maker"),
        *((f"insp-{number}", "inspector") for number in range(1, INSPECTORS + 1)),
        ("sup-1", "supervisor"),
        ("qe-1", "quality-engineer"),
        ("da-1", "design-authority"),
    )
)
ROUTE = """
[product]
code = "OAR"
name = "Oar blade"
target_per_week = 5
[[step]]
number = 10
name = "Form"
kind = "forming"
planned_hours = 1.0
queue_hours = 2.0
[[step]]
number = 20
name = "Weld"
kind = "joining"
planned_hours = 2.0
queue_hours = 2.0
max_visits = 2
[[step]]
number = 30
name = "Measure"
kind = "inspection"
planned_hours = 0.5
queue_hours = 1.0
[[step.characteristic]]
code = "chord"
unit = "mm"
nominal = 11.0
lower = 10.0
upper = 12.0
decimals = 2
[[step]]
number = 40
name = "Polish"
kind = "finishing"
planned_hours = 1.0
queue_hours = 1.0
[[rework_card]]
code = "RW-WELD"
name = "Weld again"
raised_at = 30
repeat = [20]
"""


def actor(code: str, role: str, *, self_inspection: bool = False) -> Actor:
    """Somebody who acts, in one role."""
    return Actor(code=code, roles=frozenset({role}), self_inspection=self_inspection)


MAKER, MAKER_2 = actor("maker-1", "maker"), actor("maker-2", "maker")
INSPECTOR, SUPERVISOR = actor("insp-1", "inspector"), actor("sup-1", "supervisor")
QUALITY, DELEGATE = actor("qe-1", "quality-engineer"), actor("da-1", "design-authority")


@dataclass
class Floor:
    """The record and its clock, which goes on a minute at each booking."""

    ledger: Ledger
    clock: FixedClock
    numbers: itertools.count[int] = field(default_factory=lambda: itertools.count(1))

    def do(self, command: Command, who: Actor = SUPERVISOR) -> dict[str, Any]:
        """Run one command, a minute after the one before it."""
        self.clock.at_us += MINUTE_US
        return self.ledger.execute(CODE, command, who)

    def book(
        self, act: str, serial: str, who: Actor = SUPERVISOR, **given: Any
    ) -> dict[str, Any]:
        """Book one act as the API would; `at_us` and `key` are among what can be given."""
        at_us = given.pop("at_us", None)
        given.setdefault("key", f"k{next(self.numbers)}")
        if act == "create":
            given.setdefault("product", "OAR")
        booking = make_booking({"act": act, "serial": serial, **given}, at_us)
        return self.do(Book(booking=booking), who)

    def visit(
        self, serial: str, step: int, outcome: str = "pass", who: Actor = MAKER, **given: Any
    ) -> dict[str, Any]:
        """Begin at a step and end there."""
        self.book("begin", serial, who, step=step)
        return self.book("end", serial, who, step=step, outcome=outcome, **given)

    def bring_to(self, serial: str, step: int) -> None:
        """Create a part, pass the steps before `step`, and begin there."""
        self.book("create", serial)
        for number in (10, 20, 30, 40):
            who = INSPECTOR if number == 30 else MAKER
            if number == step:
                self.book("begin", serial, who, step=step)
                return
            self.visit(serial, number, who=who)

    def key(self) -> str:
        """A key nobody used yet."""
        return f"k{next(self.numbers)}"

    def part(self, serial: str, as_of_us: int | None = None) -> PartCard:
        """Where a part stands, or stood as known then."""
        with self.ledger.read(CODE, as_of_us) as read:
            return read_part(read, serial)

    def events(self) -> int:
        """How many events the record holds."""
        with self.ledger.store.read() as connection:
            return int(connection.execute(select(func.count()).select_from(Event)).scalar_one())

    def rows(self, columns: Sequence[Any], *conditions: Any) -> list[Any]:
        """Rows of a table, straight from the store."""
        with self.ledger.store.read() as connection:
            query = select(*columns).where(*conditions).order_by(*columns[:1])
            return [tuple(row) for row in connection.execute(query)]


def furnish(url: str, clock: Clock | None = None) -> Ledger:
    """The site, its people and its product in an empty, migrated store."""
    return opened(url, clock, _furnish, SITE, ROUTE)


def _furnish(ledger: Ledger) -> None:
    ledger.open_site(CODE)
    ledger.execute(CODE, ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
    ledger.execute(CODE, LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)


def open_floor(url: str) -> Floor:
    """A furnished floor whose clock stands at the start of a Monday's shift."""
    clock = FixedClock(parse_instant(START))
    return Floor(furnish(url, clock), clock)

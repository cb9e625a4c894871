"""A shop that finishes blades with moments and frequencies, for tests of sets."""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import Any

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.ledger.service import Command, Ledger
from ringwright.ledger.transaction import Actor
from ringwright.parts.queries import PartCard, read_part
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sets.queries import read_set
from ringwright.sets.rules import BladeSet
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from tests.make.kept import opened

CODE = "RINGHALL"
PRODUCT = "RH8-BLADE"
SLOTS = 8
NOW = "2026-10-01T12:00:00+02:00"
ROLES = (
    "maker", "inspector", "supervisor", "planner", "quality-engineer", "design-authority",
)  # fmt: skip
SITE = f"""
[site]
code = "{CODE}"
name = "Ring hall"
zone = "Europe/Oslo"
""" + "".join(f'[[person]]\ncode = "{role}-1"\nroles = ["{role}"]\n' for role in ROLES)
ROUTE = f"""
[product]
code = "{PRODUCT}"
name = "Ring hall blade"
family = "fan-blade"
set_size = {SLOTS}
[[step]]
number = 10
name = "Form"
kind = "forming"
[[step]]
number = 20
name = "Weigh"
kind = "inspection"
[[step.characteristic]]
code = "moment"
lower = 110000.0
upper = 130000.0
unit = "g_mm"
role = "moment"
[[step.characteristic]]
code = "tone"
lower = 50.0
upper = 70.0
unit = "Hz"
decimals = 2
role = "frequency"
[[step]]
number = 30
name = "Polish"
kind = "finishing"
[[step]]
number = 40
name = "Release"
kind = "dispatch"
[[rework_card]]
code = "P"
name = "Polish again"
raised_at = 40
repeat = [30]
"""
HEADER = "at,serial,product,act,step,outcome,defect,characteristic,value,unit,lot,station,by\n"


@dataclass(frozen=True)
class Finished:
    """A finished blade and what was read of it; polished before it was weighed."""

    serial: str
    moment: float
    tone: float


def finished(count: int, seed: int = 1) -> list[Finished]:
    """Blades RB-1, RB-2 … with moments near 120,000 g·mm and tones near 60 Hz."""
    chance = random.Random(seed)
    return [
        Finished(f"RB-{n}", round(chance.gauss(120_000, 480), 1), round(chance.gauss(60, 1), 2))
        for n in range(1, count + 1)
    ]


def history_of(blades: list[Finished], *, weigh_last: bool = True) -> str:
    """Rows that make, weigh and release the blades; a polish last lapses the readings."""
    rows = [HEADER]
    for blade in blades:
        day, name = "2026-09-21T", f"{blade.serial},{PRODUCT}"
        rows.append(f"{day}06:00+02:00,{name},create,,,,,,,,,maker-1\n")
        rows += _visit(day + "07", name, 10)
        rows += _visit(day + "08", name, 15) if weigh_last else []
        reads = [
            f"{day}09:10+02:00,{name},measure,20,,,moment,{blade.moment},g_mm,,,inspector-1\n",
            f"{day}09:20+02:00,{name},measure,20,,,tone,{blade.tone},Hz,,,inspector-1\n",
        ]
        rows += _visit(day + "09", name, 20, reads)
        rows += [] if weigh_last else _visit(day + "10", name, 30)
        rows += _visit(day + "11", name, 40)
    return "".join(rows)


def _visit(hour: str, name: str, step: int, within: list[str] | None = None) -> list[str]:
    begin = f"{hour}:00+02:00,{name},begin,{step},,,,,,,,maker-1\n"
    return [
        begin,
        *(within or []),
        f"{hour}:30+02:00,{name},end,{step},pass,,,,,,,inspector-1\n",
    ]


@dataclass(slots=True)
class RingHall:
    """The shop's record, and one of each role to act on it."""

    ledger: Ledger
    clock: FixedClock
    count: int = 0

    def act(self, role: str, command: Command) -> dict[str, Any]:
        """Do a command as the person of that role."""
        actor = Actor(code=f"{role}-1", roles=frozenset({role}))
        return self.ledger.execute(CODE, command, actor)

    def key(self) -> str:
        """A key that was not used yet."""
        self.count += 1
        return f"key {self.count}"

    def book(self, role: str, **given: Any) -> dict[str, Any]:
        """Book one act as from the API."""
        booking = make_booking({"key": self.key(), **given}, None)
        return self.act(role, Book(booking=booking))

    def part(self, serial: str) -> PartCard:
        """Where a blade stands."""
        with self.ledger.read(CODE) as read:
            return read_part(read, serial)

    def set(self, code: str) -> BladeSet:
        """Where a set stands."""
        with self.ledger.read(CODE) as read:
            return read_set(read, code)


def open_hall(url: str, blades: list[Finished], *, weigh_last: bool = True) -> RingHall:
    """The shop with these blades released. Its card forms, polishes, weighs, releases."""
    clock = FixedClock(parse_instant(NOW))
    card, history = route(weigh_last), history_of(blades, weigh_last=weigh_last)

    def furnish(ledger: Ledger) -> None:
        ledger.open_site(CODE)
        ledger.execute(CODE, ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
        ledger.execute(CODE, LoadRoute(card=parse_route(card, "route")), SYSTEM)
        ledger.execute(CODE, LoadHistory(rows=read_csv(history)), SYSTEM)

    return RingHall(opened(url, clock, furnish, SITE, card, history), clock)


def route(weigh_last: bool = True) -> str:
    """The route card, with the polish before the weighing or after it."""
    if not weigh_last:
        return ROUTE
    # Polish takes number 15, so that a blade is weighed after the last step that changes it.
    polish, rest = ROUTE.index("[[step]]\nnumber = 30"), ROUTE.index("[[step]]\nnumber = 40")
    weigh = ROUTE.index("[[step]]\nnumber = 20")
    moved = ROUTE[polish:rest].replace("30", "15")
    return (ROUTE[:weigh] + moved + ROUTE[weigh:polish] + ROUTE[rest:]).replace("[30]", "[15]")

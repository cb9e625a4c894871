"""A cell with two furnaces, a clean window and carriers, for tests of the floor."""

from __future__ import annotations

from dataclasses import replace

from ringwright.assembly import SYSTEM
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.floor.model import FloorSheet, Standing
from ringwright.floor.service import FindAgain, MoveMany, OpenUp, Prioritise, Seek, ShutIt
from ringwright.floor.standing import read_floor
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from tests.make import floor as plain
from tests.make.floor import CODE, START, SUPERVISOR, Floor
from tests.make.kept import opened

HOUR_US = 3_600_000_000
PLANNER = plain.actor("plan-1", "planner")
STATIONS = "".join(
    f'[[station]]\ncode = "{code}"\nname = "{name}"\ngroup = "{group}"\n'
    for code, name, group in (
        ("CL-1", "Clean line", "clean"),
        ("FB-1", "Furnace 1", "furnace"),
        ("FB-2", "Furnace 2", "furnace"),
    )
)
SITE = plain.SITE + '[[person]]\ncode = "plan-1"\nroles = ["planner"]\n' + STATIONS
ROUTE = """
[product]
code = "OAR"
name = "Oar blade"
family = "fan-blade"
[[step]]
number = 10
name = "Clean"
kind = "cleaning"
station_group = "clean"
planned_hours = 1.0
queue_hours = 2.0
[[step]]
number = 20
name = "Bond"
kind = "heat-cycle"
station_group = "furnace"
planned_hours = 4.0
queue_hours = 6.0
window = { after = 10, max_hours = 3.0 }
[[step]]
number = 30
name = "Look"
kind = "inspection"
planned_hours = 0.5
queue_hours = 1.0
"""


class Cell(Floor):
    """The floor with furnaces, and how tests act on it."""

    def sheet(self, as_of_us: int | None = None) -> FloorSheet:
        """The floor as the page reads it."""
        with self.ledger.read(CODE, as_of_us) as read:
            return read_floor(read, "OAR")

    def standing(self, serial: str, as_of_us: int | None = None) -> Standing | None:
        """One part as it stands on the floor, or None."""
        found = [part for part in self.sheet(as_of_us).parts if part.serial == serial]
        return found[0] if found else None

    def here(self, serial: str) -> Standing:
        """One part that does stand on the floor."""
        part = self.standing(serial)
        assert part is not None
        return part

    def wait(self, hours: float) -> None:
        """Let the clock run."""
        self.clock.at_us += int(hours * HOUR_US)

    def cleaned(self, *serials: str) -> None:
        """Parts that wait for the furnace."""
        for serial in serials:
            self.book("create", serial)
            self.visit(serial, 10)

    def move(
        self, *things: str, to: str, carriers: tuple[str, ...] = (), who: Actor = SUPERVISOR
    ) -> None:
        """Put parts and carriers somewhere."""
        self.do(MoveMany(parts=things, carriers=carriers, to=to, key=self.key()), who)

    def seek(self, serial: str) -> None:
        """Start a search."""
        self.do(Seek(serial=serial, key=self.key()))

    def find(self, serial: str, where: str) -> None:
        """Find a part."""
        self.do(FindAgain(serial=serial, where=where, key=self.key()))

    def first(self, serial: str, rank: int = 1, who: Actor = SUPERVISOR) -> None:
        """Let a part go first."""
        self.do(Prioritise(serial=serial, rank=rank, reason="engine test", key=self.key()), who)

    def shut(
        self, thing: str = "station:FB-1", who: Actor = SUPERVISOR, opener: str = "supervisor"
    ) -> None:
        """Shut something."""
        kind, _, code = thing.partition(":")
        self.do(
            ShutIt(kind=kind, code=code, reason="survey failed", opener=opener, key=self.key()),
            who,
        )

    def open(self, thing: str = "station:FB-1", who: Actor = SUPERVISOR) -> None:
        """Open it again."""
        self.do(OpenUp(thing=thing, reason="surveyed", key=self.key()), who)


def open_cell(url: str) -> Cell:
    """A furnished cell whose clock stands at the start of a Monday's shift."""
    clock = FixedClock(parse_instant(START))
    return Cell(opened(url, clock, _furnish, SITE, ROUTE), clock)


def _furnish(ledger: Ledger) -> None:
    ledger.open_site(CODE)
    ledger.execute(CODE, ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
    ledger.execute(CODE, LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)


def part(serial: str = "A", **given: object) -> Standing:
    """One part that waits, made by hand."""
    made = Standing(
        serial=serial, product="OAR", revision="1", step=20, in_work=False, since_us=0,
        age_us=HOUR_US, plan_us=2 * HOUR_US, station="", touched_by="maker-1", lot=None,
        used_lot=None,
    )  # fmt: skip
    return replace(made, **given)  # type: ignore[arg-type]

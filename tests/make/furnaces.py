"""A small hall with a furnace, its recipe and blades that wait to go in."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from ringwright.assembly import SYSTEM
from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.furnaces.card import Channel, Furnace, Proof
from ringwright.furnaces.queries import read_run
from ringwright.furnaces.rules import Run
from ringwright.furnaces.service import Prove, ReviseRecipe, SetFurnace
from ringwright.heat.recipe import RAMP, SOAK, Recipe, Segment, Use
from ringwright.heat.trace import Trace
from ringwright.heatruns.readings import KeepReadings
from ringwright.heatruns.review import Accept, Close
from ringwright.heatruns.running import Abort, Finish, Load, OpenRun, Start, Unload
from ringwright.ledger.service import Command, Ledger
from ringwright.ledger.transaction import Actor
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import SetGroundRule
from ringwright.sites.site import Station
from tests.make.floor import (
    CODE,
    INSPECTOR,
    MAKER,
    MINUTE_US,
    QUALITY,
    SUPERVISOR,
    Floor,
    open_floor,
)

FURNACE = "HF-1"
RECIPE = "SLOW"
ROUTE = """
[product]
code = "SAIL"
name = "Sail Blade"
[[step]]
number = 10
name = "Clean"
kind = "cleaning"
max_visits = 2
[[step]]
number = 20
name = "Inflate"
kind = "heat-cycle"
window = { after = 10, max_hours = 4.0 }
[[step]]
number = 30
name = "Look"
kind = "inspection"
"""
CYCLE = Recipe(
    code=RECIPE,
    name="Slow Inflation",
    furnace_class=4,
    segments=(
        Segment(name="heat", kind=RAMP, target_c=900.0, tolerance_c=8.0),
        Segment(name="form", kind=SOAK, target_c=900.0, tolerance_c=8.0, min_minutes=60.0),
    ),
    uses=(Use(product="SAIL", step=20),),
)
HOT = Furnace(
    code=FURNACE,
    furnace_class=4,
    positions=("left", "middle", "right"),
    channels=(Channel(code="tc1_c"), Channel(code="tc2_c", most_uses=3)),
    proofs={"survey": Proof(days=30), "leak": Proof(days=7, limit=5.0)},
)


@dataclass
class Hall:
    """What is done at the furnace."""

    floor: Floor
    started_s: float = field(default=0.0)

    def waiting(self, *serials: str) -> None:
        """Blades cleaned a moment ago, which wait to be inflated."""
        for serial in serials:
            self.floor.book("create", serial, product="SAIL")
            self.floor.book("begin", serial, step=10)
            self.floor.book("end", serial, step=10, outcome="pass")

    def prove(self, what: str = "survey", **given: Any) -> dict[str, Any]:
        """Record a survey or test; a good one of the first day unless told otherwise."""
        given = {"on": "2026-09-28", "value": 4.0, **given}
        command = Prove(furnace=FURNACE, what=what, key=self.floor.key(), **given)
        return self.floor.do(command, QUALITY)

    def ready(self) -> None:
        """Everything that has to be proved is."""
        self.prove()
        self.prove("leak")

    def open(self, furnace: str = FURNACE, recipe: str = RECIPE) -> str:
        """A new run."""
        command = OpenRun(furnace=furnace, recipe=recipe, key=self.floor.key())
        return str(self.floor.do(command, MAKER)["run"])

    def load(self, run: str, serial: str, position: str = "") -> dict[str, Any]:
        """Lay a blade in."""
        command = Load(run=run, serial=serial, position=position, key=self.floor.key())
        return self.floor.do(command, MAKER)

    def unload(self, run: str, serial: str) -> dict[str, Any]:
        """Take one out."""
        return self.floor.do(Unload(run=run, serial=serial, key=self.floor.key()), MAKER)

    def start(self, run: str) -> dict[str, Any]:
        """Begin the cycle."""
        answer = self.floor.do(Start(run=run, key=self.floor.key()), MAKER)
        self.started_s = self.run(run).started_us / 1e6  # type: ignore[operator]
        return answer

    def finish(self, run: str, **given: Any) -> dict[str, Any]:
        """End it."""
        return self.floor.do(Finish(run=run, key=self.floor.key(), **given), MAKER)

    def abort(self, run: str, reason: str = "power lost") -> dict[str, Any]:
        """Break it off."""
        return self.floor.do(Abort(run=run, reason=reason, key=self.floor.key()), SUPERVISOR)

    def keep(self, run: str, trace: Trace, source: str = "rec.csv") -> dict[str, Any]:
        """Hand the recorder's readings in."""
        command = KeepReadings(run=run, trace=trace, source=source, key=self.floor.key())
        return self.floor.do(command, MAKER)

    def accept(self, run: str, who: Any = INSPECTOR, **given: Any) -> dict[str, Any]:
        """Look at gas, thermocouples and coupons, and accept."""
        looked = {"gas": "dry", "thermocouples": "as drawn", "coupons": "bright", **given}
        return self.floor.do(Accept(run=run, key=self.floor.key(), **looked), who)

    def close(self, run: str, reason: str = "all sentenced") -> dict[str, Any]:
        """End the engineering review."""
        return self.floor.do(Close(run=run, reason=reason, key=self.floor.key()), QUALITY)

    def run(self, code: str) -> Run:
        """The run as it stands."""
        with self.floor.ledger.read(CODE) as read:
            found = read_run(read.connection, read.site.id, code)
        assert found is not None
        return found

    def whole_run(self, *serials: str, held_at_c: float = 900.0) -> str:
        """A run from cleaning to its trace, which is met unless it was held too cold."""
        self.waiting(*serials)
        run = self.open()
        for serial in serials:
            self.load(run, serial)
        self.start(run)
        self.floor.clock.at_us += 130 * MINUTE_US
        self.finish(run)
        self.keep(run, self.trace(held_at_c))
        return run

    def trace(
        self, held_at_c: float = 900.0, minutes: int = 130, since_s: float = 0.0
    ) -> Trace:
        """Up in an hour, held for the rest: two thermocouples with a little noise each."""
        return readings(since_s or self.started_s, held_at_c, minutes)


def commands(key: str = "hf") -> tuple[tuple[Command, Actor], ...]:
    """What puts the furnace, its product and its recipe into any site."""
    station = Station(code=FURNACE, name="Hot Furnace 1", group="F", capacity=3)
    return (
        (LoadRoute(card=parse_route(ROUTE)), SYSTEM),
        (SetGroundRule(thing=station, key=f"{key}-station"), SYSTEM),
        (SetFurnace(furnace=HOT, key=f"{key}-furnace"), QUALITY),
        (ReviseRecipe(recipe=CYCLE, key=f"{key}-recipe"), QUALITY),
    )


def readings(since_s: float, held_c: float = 900.0, minutes: int = 130) -> Trace:
    """Up in an hour, held for the rest: two thermocouples with a little noise each."""
    minute = np.arange(minutes + 1, dtype=float)
    level = 20.0 + np.minimum(minute / 60.0, 1.0) * (held_c - 20.0)
    wobble = 0.4 * np.sin(minute)
    return Trace(
        at_s=since_s + minute * 60.0,
        temperatures_c={"tc1_c": level + wobble, "tc2_c": level - wobble},
    )


def load_run(ledger: Ledger, site: str, *serials: str, furnace: str = FURNACE) -> str:
    """A run of such blades, not begun yet, in any site that has `commands()` already."""
    keys = (f"{serials[0]}-{number}" for number in itertools.count(1))

    def do(command: Command, who: Actor = MAKER) -> dict[str, Any]:
        return ledger.execute(site, command, who)

    for what in ("survey", "leak"):
        proof = Prove(furnace=furnace, what=what, on="2026-09-28", value=4.0, key=next(keys))
        do(proof, QUALITY)
    for serial in serials:
        for act, more in (
            ("create", {"product": "SAIL"}),
            ("begin", {"step": 10}),
            ("end", {"step": 10, "outcome": "pass"}),
        ):
            row = {"act": act, "serial": serial, "key": next(keys), **more}
            do(Book(booking=make_booking(row, None)))
    run = str(do(OpenRun(furnace=furnace, recipe=RECIPE, key=next(keys)))["run"])
    for serial in serials:
        do(Load(run=run, serial=serial, key=next(keys)))
    return run


def start_run(ledger: Ledger, site: str, *serials: str) -> str:
    """The same, its cycle begun."""
    run = load_run(ledger, site, *serials)
    ledger.execute(site, Start(run=run, key=f"{run}-start"), MAKER)
    return run


def tell_runs(ledger: Ledger, site: str) -> tuple[str, ...]:
    """Runs that are held, for review, under way and loading; the last in a furnace of its own.

    Their readings are of the hours to come, since the clock stands.
    """
    now_s = ledger.clock.now_us() / 1e6
    runs = []
    for serial, held_c in (("S-911", 920.0), ("S-921", 900.0)):
        runs.append(start_run(ledger, site, serial))
        ledger.execute(site, Finish(run=runs[-1], key=f"{serial}-end"), MAKER)
        trace = readings(now_s + len(runs), held_c)
        ledger.execute(site, KeepReadings(run=runs[-1], trace=trace, key=f"{serial}-k"), MAKER)
    runs.append(start_run(ledger, site, "S-931"))
    early = KeepReadings(run=runs[-1], trace=readings(now_s, minutes=80), key="S-931-k")
    ledger.execute(site, early, MAKER)
    station = Station(code="HF-2", name="Hot Furnace 2", group="F", capacity=3)
    ledger.execute(site, SetGroundRule(thing=station, key="hf-2-station"), SYSTEM)
    other = replace(HOT, code="HF-2")
    ledger.execute(site, SetFurnace(furnace=other, key="hf-2-furnace"), QUALITY)
    return (*runs, load_run(ledger, site, "S-941", furnace="HF-2"))


def open_hall(url: str) -> Hall:
    """The hall with its furnace and recipe; nothing is proved of the furnace yet."""
    floor = open_floor(url)
    for command, who in commands():
        floor.do(command, who)
    return Hall(floor)

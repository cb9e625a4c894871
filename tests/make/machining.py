"""A small case shop: two lathes and a mill, a case product, what its machining needs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ringwright.assembly import SYSTEM
from ringwright.ledger.service import Command
from ringwright.ledger.transaction import Actor
from ringwright.machines.card import Placed
from ringwright.machines.service import ChangePlacement, KeepPlan, LoadMachining, LogSpindle
from ringwright.machines.toml import parse_machining
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import SetGroundRule
from ringwright.sites.site import Station
from tests.make.floor import MAKER, MINUTE_US, SUPERVISOR, Floor, open_floor

MACHINE, SECOND, MILL = "CV-1", "CV-2", "CM-1"
ROUTE = """
[product]
code = "HOOP"
name = "Hoop Case"
family = "case"
[[step]]
number = 10
name = "Rough turn"
kind = "machining"
station_group = "case-lathe"
planned_hours = 10.0
queue_hours = 4.0
[[step]]
number = 20
name = "Look"
kind = "inspection"
planned_hours = 1.0
queue_hours = 3.0
[[step]]
number = 30
name = "Mill"
kind = "machining"
station_group = "case-mill"
planned_hours = 6.0
queue_hours = 4.0
"""
NEEDS = """
product = "HOOP"
[[operation]]
step = 10
set_up_hours = 2.0
spindle_hours = 8.0
machines = ["CV-1", "CV-2"]
fixture = "chuck"
[[operation]]
step = 30
set_up_hours = 1
spindle_hours = 5.0
machines = ["CM-1"]
[[fixture]]
kind = "chuck"
count = 2
name = "Chuck for hoops"
"""


@dataclass
class Works:
    """What is done in the case shop."""

    floor: Floor

    def on(self, serial: str, station: str = MACHINE, step: int = 10) -> None:
        """A case goes on a machine."""
        self.floor.book("create", serial, product="HOOP")
        self.floor.book("begin", serial, MAKER, step=step, station=station)

    def log(self, act: str, station: str = MACHINE, **given: Any) -> dict[str, Any]:
        """A line in a spindle's log."""
        key = self.floor.key()
        return self.floor.do(LogSpindle(station=station, act=act, key=key, **given), MAKER)

    def later(self, hours: float) -> None:
        """The clock goes on."""
        self.floor.clock.at_us += round(hours * 60) * MINUTE_US

    def keep(self, *placements: Placed, seen: int = 0) -> dict[str, Any]:
        """A plan is kept on the board."""
        key = self.floor.key()
        return self.floor.do(KeepPlan(placements=placements, seen=seen, key=key), SUPERVISOR)

    def change(self, placement: Placed, seen: int, reason: str = "crane") -> dict[str, Any]:
        """One placement is changed."""
        key = self.floor.key()
        command = ChangePlacement(placement=placement, seen=seen, reason=reason, key=key)
        return self.floor.do(command, SUPERVISOR)


def commands(key: str = "cs") -> tuple[tuple[Command, Actor], ...]:
    """What furnishes a case shop."""
    stations = (
        Station(code=MACHINE, name="Case lathe 1", group="case-lathe"),
        Station(code=SECOND, name="Case lathe 2", group="case-lathe"),
        Station(code=MILL, name="Case mill 1", group="case-mill"),
    )
    placed = [(SetGroundRule(thing=one, key=f"{key}-{one.code}"), SYSTEM) for one in stations]
    return (
        *placed,
        (LoadRoute(card=parse_route(ROUTE, "hoop")), SYSTEM),
        (LoadMachining(file=parse_machining(NEEDS), key=f"{key}-needs"), SUPERVISOR),
    )


def open_works(url: str) -> Works:
    """The case shop, with nothing on its machines."""
    floor = open_floor(url)
    for command, who in commands():
        floor.do(command, who)
    return Works(floor)

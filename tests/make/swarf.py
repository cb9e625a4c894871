"""A case shop in small: a ring of titanium, its swarf containers, and a blade that turns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor
from ringwright.material.card import ROTATING, STATIC, Alloy, Lot
from ringwright.material.queries import read_containers, read_lots
from ringwright.material.rules import Container
from ringwright.material.scales import Typed
from ringwright.material.service import (
    ActOnContainer,
    AddSwarf,
    CorrectContainer,
    OpenContainer,
    SetAlloy,
    SetLot,
)
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.gauging import Calibrate, SetGauge
from ringwright.sites.site import Calibration, Gauge
from tests.make.bench import HEADER
from tests.make.floor import CODE, MAKER, QUALITY, SUPERVISOR, Floor, open_floor

RING = """
[product]
code = "RING"
name = "Guide Ring"
family = "case"
[[step]]
number = 10
name = "Receive"
kind = "receipt"
[[step.characteristic]]
code = "forging_mass"
nominal = 24
lower = 20
upper = 30
unit = "kg"
decimals = 1
role = "mass"
[[step]]
number = 20
name = "Turn"
kind = "machining"
[[step.characteristic]]
code = "turned_mass"
nominal = 10
lower = 1
upper = 20
unit = "kg"
decimals = 1
[[step]]
number = 30
name = "Finish"
kind = "machining"
[[step.characteristic]]
code = "finished_mass"
nominal = 4
lower = 1
upper = 10
unit = "kg"
decimals = 1
role = "mass"
[[step]]
number = 40
name = "Release"
kind = "dispatch"
"""
FAN = RING.replace("RING", "FAN").replace('"case"', '"fan-blade"')
TITANIUM = Alloy(code="TI64", name="Ti-6Al-4V", density_g_cm3=4.43, products=("RING", "FAN"))
NICKEL = Alloy(code="IN718", name="Nickel 718", density_g_cm3=8.19, products=("OAR",))
CALIBRATED = Calibration(gauge="CSC-9", on="2026-09-01", due="2027-09-01")
SCALE = Gauge(code="CSC-9", kind="crane-scale", unit="kg", uncertainty=0.05, resolution=0.1)
WEIGHED = ((10, "forging", 24.0), (20, "turned", 10.0), (30, "finished", 4.0))
GOOD = Lot(code="TI-1", alloy="TI64", heat="H-1", certificate="C-1", use=ROTATING)
CASES = Lot(code="TI-2", alloy="TI64", heat="H-2", certificate="C-2", use=STATIC)


@dataclass
class CaseShop:
    """What is done in the case shop."""

    floor: Floor

    def do(self, command: Any, who: Actor = MAKER) -> dict[str, Any]:
        """Run a command a minute later."""
        return self.floor.do(command, who)

    def typed(self, kg: float, u_kg: float | None = None) -> Typed:
        """A mass on the crane scale, unless told what it is worth."""
        return Typed(kg=kg, gauge="" if u_kg is not None else SCALE.code, u_kg=u_kg)

    def open(self, alloy: str = "TI64", swarf: str = "turnings", **given: Any) -> str:
        """A new container, 5 kg empty."""
        command = OpenContainer(
            alloy=alloy, swarf=swarf, tare=self.typed(5.0), key=self.floor.key(), **given
        )
        return str(self.do(command)["container"])

    def add(self, code: str, serial: str, kg: float, **given: Any) -> dict[str, Any]:
        """Dry swarf of the part, unless told otherwise."""
        given = {"wet": False, "step": 20, **given}
        net = given.pop("net", None) or self.typed(kg)
        command = AddSwarf(
            container=code, serial=serial, net=net, key=self.floor.key(), **given
        )
        return self.do(command)

    def act(self, code: str, act: str, who: Actor = MAKER, **given: Any) -> dict[str, Any]:
        """Weigh, seal, send it, call it mixed, take it back as a lot."""
        command = ActOnContainer(container=code, act=act, key=self.floor.key(), **given)
        return self.do(command, who)

    def send(self, code: str, full_kg: float, *, melts: bool = True) -> None:
        """Weigh, seal and send a container."""
        self.act(code, "weigh", full=self.typed(full_kg))
        self.act(code, "seal")
        self.act(code, "send", to="Melter", paper="P-1", melts=melts)

    def correct(self, code: str, entry: int, kg: float | None = None) -> dict[str, Any]:
        """An entry was wrong."""
        command = CorrectContainer(
            container=code, entry=entry, reason="misread", kg=kg, key=self.floor.key()
        )
        return self.do(command, SUPERVISOR)

    def set_lot(self, lot: Lot, who: Actor = QUALITY, reason: str = "") -> dict[str, Any]:
        """Register a lot."""
        return self.do(SetLot(lot=lot, reason=reason, key=self.floor.key()), who)

    def container(self, code: str) -> Container:
        """The container as it stands."""
        with self.floor.ledger.read(CODE) as read:
            return read_containers(read.connection, read.site.id, [code])[0]

    def lot(self, code: str) -> Lot:
        """The lot as it may be used."""
        with self.floor.ledger.read(CODE) as read:
            return read_lots(read.connection, read.site.id, [code])[code]

    def ring(self, serial: str = "R-1", lot: str | None = None) -> str:
        """A ring in work at its first step, its forging weighed with 24.0 kg."""
        self.floor.book("create", serial, product="RING", lot=lot)
        self.weigh(serial, 10, "forging_mass", 24.0)
        return serial

    def weigh(self, serial: str, step: int, name: str, kg: float) -> None:
        """A step done, with the part weighed at it."""
        self.floor.book("begin", serial, step=step)
        given: dict[str, Any] = {
            "characteristic": name,
            "value": kg,
            "unit": "kg",
            "gauge": SCALE.code,
        }
        self.floor.book("measure", serial, step=step, **given)
        self.floor.book("end", serial, step=step, outcome="pass")


def furnish(ledger: Ledger, site: str, key: str = "swarf") -> None:
    """Products, alloys, a scale and two lots, in any site."""
    for route in (RING, FAN):
        ledger.execute(site, LoadRoute(card=parse_route(route, "route")), SYSTEM)
    ledger.execute(site, SetGauge(gauge=SCALE, key=f"{key}-scale"), QUALITY)
    ledger.execute(site, Calibrate(calibration=CALIBRATED, key=f"{key}-good"), QUALITY)
    alloys = (TITANIUM, Alloy(code="IN718", density_g_cm3=8.19))
    for alloy in alloys:
        command = SetAlloy(alloy=alloy, key=f"{key}-{alloy.code}")
        ledger.execute(site, command, QUALITY)
    for lot in (GOOD, CASES):
        ledger.execute(site, SetLot(lot=lot, key=f"{key}-{lot.code}"), QUALITY)


def open_shop(url: str) -> CaseShop:
    """A furnished shop."""
    floor = open_floor(url)
    furnish(floor.ledger, CODE)
    floor.do(SetAlloy(alloy=NICKEL, key="nickel"), QUALITY)
    return CaseShop(floor)


def sample(ledger: Ledger, site: str) -> None:
    """An alloy, a lot and the open container SW-0001, for pages that want one to look at."""
    alloy = Alloy(code="TI64", name="Ti-6Al-4V", density_g_cm3=4.43)
    opened = OpenContainer(
        alloy="TI64", swarf="turnings", tare=Typed(kg=5.0, u_kg=0.1), key="sw-1"
    )
    ledger.execute(site, SetAlloy(alloy=alloy, key="ti64"), QUALITY)
    ledger.execute(site, SetLot(lot=GOOD, key="ti-1"), QUALITY)
    assert ledger.execute(site, opened, MAKER)["container"] == "SW-0001"


def rings(ledger: Ledger, site: str, *serials: str) -> None:
    """Rings weighed with 24.0 kg as forged and 4.0 kg finished, without any swarf booked."""
    rows = [HEADER]
    for serial in serials:
        rows.append(_row("08:00", serial, "create"))
        for hour, (step, name, kg) in enumerate(WEIGHED, start=9):
            rows.append(_row(f"{hour:02}:00", serial, "begin", str(step)))
            read = ("", "", f"{name}_mass", str(kg), "kg")
            rows.append(_row(f"{hour:02}:10", serial, "measure", str(step), *read))
            rows.append(_row(f"{hour:02}:20", serial, "end", str(step), "pass"))
    ledger.execute(site, LoadHistory(rows=read_csv("".join(rows))), SYSTEM)


def _row(clock: str, serial: str, act: str, *rest: str) -> str:
    """A history row of the Wednesday: step, outcome, defect, characteristic, value, unit."""
    cells = [*rest, *[""] * (8 - len(rest)), "make-1"]
    return ",".join((f"2026-09-30T{clock}+02:00", serial, "RING", act, *cells)) + "\n"

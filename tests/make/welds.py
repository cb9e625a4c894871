"""A small ring of vanes: its weld plan, and entries as the ledger would hand them over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ringwright.assembly import SYSTEM
from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.core.facts import Entry
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.authorising import Authorise
from ringwright.sites.site import Authorisation
from ringwright.weldmaps.service import TellRing
from ringwright.welds.card import WeldPlan
from ringwright.welds.queries import read_ring
from ringwright.welds.rules import FindPlan, fold
from ringwright.welds.service import SetWeldPlan
from ringwright.welds.state import Ring
from ringwright.welds.toml import parse_plan
from tests.make.floor import CODE, INSPECTOR, MAKER, QUALITY, Floor, open_floor

PLAN = """
[weld_plan]
product = "RING"
revision = "1"
effective_from = ""
vanes = 4
first_angle_deg = 0
direction = "clockwise"
process = "141"
procedure = "WP-1"
filler = "AWS A5.16 ERTi-5"
welding_step = 20
radiograph_step = 30
accepted_after = 30
welder = "weld-tig"
reader = "RT-2"
penetrant = true
colours = ["silver", "light straw"]
oxygen_ppm = 50

[acceptance]
standard = "ISO 5817"
level = "B"
radiograph_level = 1
technique = "ISO 17636-1"
technique_class = "B"
wire = 13

[repair]
limit = 2
relieve = false
adjoining_vanes = 0

[position]
radial_mm = 0.5
axial_mm = 1.0

[[joint]]
code = "OUT"
kind = "T-joint"
length_mm = 160
place = "outer"
adjoins = ["IN"]

[[joint]]
code = "IN"
kind = "T-joint"
length_mm = 60
place = "inner"
adjoins = ["OUT"]
"""
GOOD_PASS: dict[str, Any] = {
    "welder": "maker-1",
    "filler_lot": "F-1",
    "procedure": "WP-1",
    "oxygen_ppm": 20.0,
    "colour": "silver",
}


def plan(**changed: str) -> WeldPlan:
    """The plan, with keys of its file given other values (`limit="1"`)."""
    return parse_plan(plan_text(**changed))


def plan_text(**changed: str) -> str:
    """The plan's file, with the first line of each key said anew."""
    lines = PLAN.splitlines()
    for key, value in changed.items():
        place = next(n for n, line in enumerate(lines) if line.startswith(f"{key} ="))
        lines[place] = f"{key} = {value}"
    return "\n".join(lines)


class Bench:
    """Entries of one ring, each judged as it comes; a refused one leaves nothing."""

    def __init__(self, ruled: WeldPlan | None = None) -> None:
        self.plan = ruled or plan()
        self.entries: list[Entry] = []
        self.ring = Ring("R-1")
        self.tell("ring-opened", product="RING", revision="1")

    @property
    def find(self) -> FindPlan:
        """The one plan there is."""
        return lambda _product, _revision: self.plan

    def tell(self, kind: str, by: str = "inspector-1", **data: Any) -> Ring:
        """The ring after one more fact; raises Refused and leaves it as it was."""
        corrects = data.pop("corrects", None)
        number = len(self.entries) + 1
        entry = Entry(number, kind, number * 10, number * 10, by, "", corrects, data)
        self.ring = fold("R-1", [*self.entries, entry], self.find)
        self.entries.append(entry)
        return self.ring

    def fit(self) -> None:
        """Every vane stands where the drawing has it."""
        vanes = range(1, self.plan.vanes + 1)
        self.tell(
            "vanes-fitted",
            vanes=[{"vane": n, "radial_mm": 0.1, "axial_mm": 0.0} for n in vanes],
        )

    def make(self, *welds: str, welder: str = "maker-1", **changed: Any) -> None:
        """Weld them for the first time."""
        data = {**GOOD_PASS, "welder": welder, **changed}
        self.tell("welds-made", by=welder, welds=list(welds), **data)

    def film(self, code: str, *welds: str, wire: int = 13, **changed: Any) -> None:
        """Radiograph them."""
        asked = self.plan.acceptance
        data = {
            "technique": asked.technique, "technique_class": asked.technique_class, "iqi": "W",
            **changed,
        }  # fmt: skip
        self.tell("film-taken", film=code, welds=list(welds), wire=wire, **data)

    def read(
        self, code: str, bad: dict[str, str] | None = None, by: str = "inspector-1"
    ) -> None:
        """Read a film: not accepted for what is named, accepted else."""
        bad = bad or {}
        welds = [
            one
            for one in self.ring.films[code].welds
            if self.ring.welds[one].film == code and self.ring.welds[one].state == "to read"
        ]
        self.tell(
            "film-read", by=by, film=code,
            accepted=[one for one in welds if one not in bad],
            not_accepted=list(bad),
            defects=[
                {"weld": weld, "kind": kind, "size_mm": 1.0, "at_mm": 20.0}
                for weld, kind in bad.items()
            ],
        )  # fmt: skip

    def welded(self, *welds: str) -> None:
        """Fit, weld and test with penetrant."""
        self.fit()
        self.make(*(welds or self.plan.welds))
        self.tell("penetrant-read", clear=list(welds or self.plan.welds))

    def repair(self, weld: str, welder: str = "maker-2") -> None:
        """Excavate, prove clear, weld again, test with penetrant."""
        self.tell("weld-excavated", by=welder, weld=weld, depth_mm=2.0)
        self.tell("excavation-proved", weld=weld, method="penetrant", clear=True)
        self.tell("weld-redone", by=welder, weld=weld, **{**GOOD_PASS, "welder": welder})
        if self.plan.penetrant:
            self.tell("penetrant-read", clear=[weld])

    def state(self, weld: str) -> str:
        """Where a weld stands."""
        return self.ring.welds[weld].state


ROUTE = """
[product]
code = "RING"
name = "Ring case"
[[step]]
number = 10
name = "Bore"
kind = "machining"
[[step]]
number = 20
name = "Weld"
kind = "joining"
authorisation = "weld-tig"
[[step]]
number = 30
name = "Radiograph"
kind = "inspection"
authorisation = "RT-2"
[[step]]
number = 40
name = "Turn"
kind = "machining"
[[step]]
number = 50
name = "Release"
kind = "dispatch"
[[rework_card]]
code = "RW-WELD"
name = "Grind out and weld again"
raised_at = 30
repeat = [20]
"""


@dataclass
class WeldShop:
    """What is done at the weld cell and in the radiograph room."""

    floor: Floor

    def ring(self, serial: str) -> Ring:
        """The ring as recorded."""
        with self.floor.ledger.read(CODE) as read:
            found = read_ring(read, serial)
        assert found is not None
        return found

    def tell(self, serial: str, act: str, who: Actor = MAKER, **said: Any) -> dict[str, Any]:
        """Record one thing."""
        seen, key = said.pop("seen", None), said.pop("key", self.floor.key())
        command = TellRing(serial=serial, act=act, said=said, key=key, seen=seen)
        return self.floor.do(command, who)

    def waiting(self, serial: str) -> None:
        """A part that waits to be welded."""
        self.floor.book("create", serial, product="RING")
        self.floor.visit(serial, 10)

    def fit(self, serial: str) -> None:
        """Every vane stands where the drawing has it."""
        vanes = [{"vane": n, "radial_mm": 0.1, "axial_mm": -0.2} for n in range(1, 5)]
        self.tell(serial, "vanes-fitted", vanes=vanes)

    def make(self, serial: str, *welds: str, who: Actor = MAKER) -> dict[str, Any]:
        """Weld; all of them where none is named."""
        said = {key: value for key, value in GOOD_PASS.items() if key != "welder"}
        return self.tell(serial, "welds-made", who, welds=list(welds or plan().welds), **said)

    def film(self, serial: str, film: str, *welds: str, wire: int = 13) -> dict[str, Any]:
        """Radiograph; all of them where none is named."""
        return self.tell(
            serial, "film-taken", INSPECTOR, film=film, welds=list(welds or plan().welds),
            technique="ISO 17636-1", technique_class="B", wire=wire,
        )  # fmt: skip

    def read(
        self, serial: str, film: str, bad: tuple[str, ...] = (), who: Actor = INSPECTOR
    ) -> dict[str, Any]:
        """Read a film."""
        found = [{"weld": one, "kind": "2011", "size_mm": 1.2, "at_mm": 20} for one in bad]
        good = [one for one in self.ring(serial).films[film].welds if one not in bad]
        return self.tell(
            serial, "film-read", who, film=film, accepted=good, not_accepted=list(bad),
            defects=found,
        )  # fmt: skip

    def welded(self, serial: str) -> None:
        """A part all welded, in work at the radiograph."""
        self.waiting(serial)
        self.floor.book("begin", serial, MAKER, step=20)
        self.fit(serial)
        self.make(serial)
        self.tell(serial, "penetrant-read", INSPECTOR, clear=list(plan().welds))
        self.floor.book("end", serial, MAKER, step=20, outcome="pass")
        self.floor.book("begin", serial, INSPECTOR, step=30)

    def repaired(self, serial: str, weld: str, film: str) -> dict[str, Any]:
        """Not accepted on this film: back to the weld cell, and ready for the next."""
        floor = self.floor
        floor.book("end", serial, INSPECTOR, step=30, outcome="rework", defect="gas pore")
        floor.book("begin", serial, MAKER, step=20)
        self.tell(serial, "weld-excavated", weld=weld, depth_mm=2)
        self.tell(
            serial, "excavation-proved", INSPECTOR, weld=weld, method="penetrant", clear=True
        )
        said = {key: value for key, value in GOOD_PASS.items() if key != "welder"}
        self.tell(serial, "weld-redone", weld=weld, **said)
        self.tell(serial, "penetrant-read", INSPECTOR, clear=[weld])
        floor.book("end", serial, MAKER, step=20, outcome="pass")
        floor.book("begin", serial, INSPECTOR, step=30)
        return self.film(serial, film, *self.ring(serial).in_state("to radiograph"))


def open_weld_shop(url: str, ruled: WeldPlan | None = None) -> WeldShop:
    """A floor with the product, its weld plan and people who may weld and read."""
    floor = open_floor(url)
    floor.ledger.execute(CODE, LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)
    for person, method, level in (
        ("maker-1", "weld-tig", 0), ("insp-1", "RT", 2), ("insp-2", "RT", 2),
    ):  # fmt: skip
        paper = Authorisation(
            person=person, method=method, level=level, valid_from="2026-01-01",
            valid_to="2027-12-31", eyesight_to="2027-12-31" if level else None,
            certificate="C-1",
        )  # fmt: skip
        floor.do(Authorise(paper=paper, key=floor.key()), QUALITY)
    floor.do(SetWeldPlan(plan=ruled or plan(), key=floor.key()), QUALITY)
    return WeldShop(floor)


def begin_ring(ledger: Ledger, site: str, serial: str) -> None:
    """A part of the product in work at the weld cell of any site, its plan in force."""
    ledger.execute(site, LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)
    quality = Actor(code="qe", roles=frozenset({"quality-engineer"}))
    ledger.execute(site, SetWeldPlan(plan=plan(), key="weld-plan"), quality)
    program = Actor(code="supervisor", roles=frozenset({"supervisor"}), person=False)
    booked: list[dict[str, Any]] = [
        {"act": "create", "product": "RING"},
        {"act": "begin", "step": 10},
        {"act": "end", "step": 10, "outcome": "pass"},
        {"act": "begin", "step": 20},
    ]
    for place, fields in enumerate(booked):
        booking = make_booking({"serial": serial, "key": f"weld-{place}", **fields}, None)
        ledger.execute(site, Book(booking=booking), program)

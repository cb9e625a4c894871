"""A floor whose fins are cleaned, dried and must then be bonded within three hours."""

from __future__ import annotations

from ringwright.assembly import SYSTEM
from ringwright.bench.acts import Sentence, Stop
from ringwright.parts.queries import read_folded
from ringwright.parts.state import Part
from ringwright.parts.windows import RAN_OUT
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from tests.make.floor import CODE, DELEGATE, MAKER, MINUTE_US, QUALITY, Floor, open_floor
from tests.make.second import signed

HOUR_US = 60 * MINUTE_US
WINDOW_US = 3 * HOUR_US
FIN = """
[product]
code = "FIN"
name = "Cooling fin"
[[step]]
number = 10
name = "Form"
kind = "forming"
[[step]]
number = 20
name = "Wash"
kind = "cleaning"
max_visits = 2
[[step]]
number = 30
name = "Dry"
kind = "finishing"
[[step]]
number = 40
name = "Bond"
kind = "heat-cycle"
window = { after = 20, max_hours = 3.0 }
[[step]]
number = 50
name = "Look"
kind = "inspection"
[[rework_card]]
code = "RW-BOND"
name = "Bond again"
raised_at = 50
repeat = [40]
"""


class Fins(Floor):
    """The floor, and what is done with fins on it."""

    def washed(self, serial: str = "A") -> int:
        """A fin that waits to be dried; when its washing ended [us]."""
        self.book("create", serial, product="FIN")
        self.visit(serial, 10)
        self.visit(serial, 20)
        return self.clock.at_us

    def due(self, serial: str = "A") -> int:
        """A fin washed and dried, which waits for its bond; when its window is over [us]."""
        washed_us = self.washed(serial)
        self.visit(serial, 30)
        return washed_us + WINDOW_US

    def late(self, serial: str = "A") -> int:
        """A fin whose window ran out an hour ago; when it did [us]."""
        deadline_us = self.due(serial)
        self.at(deadline_us + HOUR_US)
        return deadline_us

    def at(self, us: int) -> None:
        """The next act falls on this instant."""
        self.clock.at_us = us - MINUTE_US

    def stop(self, serial: str = "A", defect: str = RAN_OUT) -> int:
        """Stop it for the design authority; the nonconformity's number."""
        answer = self.do(Stop(serial=serial, key=self.key(), defect=defect), MAKER)
        return int(answer["event"]["site_seq"])

    def sentence(self, serial: str, number: int, decision: str) -> None:
        """Decide it, as whoever may, with all that it asks."""
        by_delegate = signed(DELEGATE, "qe-1", "quality-engineer")
        act = Sentence(
            serial=serial, key=self.key(), nonconformity=number, decision=decision,
            document="C-7", scope="one fin", quantity=1, reason="looked at",
        )  # fmt: skip
        self.do(act, QUALITY if decision == "withdrawn" else by_delegate)

    def folded(self, serial: str = "A", as_of_us: int | None = None) -> Part:
        """The part, folded from its facts."""
        with self.ledger.read(CODE, as_of_us) as read:
            return read_folded(read, serial)


def open_fins(url: str) -> Fins:
    """The floor with its product, on the Monday morning that every floor opens on."""
    floor = open_floor(url)
    floor.ledger.execute(CODE, LoadRoute(card=parse_route(FIN, "route")), SYSTEM)
    return Fins(floor.ledger, floor.clock)

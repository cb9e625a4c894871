"""A small case shop: a product with a wall plan, its route, and cases to read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from ringwright.assembly import SYSTEM
from ringwright.ledger.service import Command
from ringwright.ledger.transaction import Actor
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.wallmaps.queries import read_sets
from ringwright.wallmaps.rules import WallSet
from ringwright.wallmaps.service import KeepWall, SetWallPlan, WithdrawWall
from ringwright.walls.reading import WallReading
from tests.make.floor import CODE, INSPECTOR, MAKER, QUALITY, Floor, open_floor
from tests.make.walls import make_plan, wall_of

PRODUCT = "X-CASE"
ROUTE = '[product]\ncode = "X-CASE"\nname = "Experimental Case"\n' + "".join(
    f'[[step]]\nnumber = {number}\nname = "{name}"\nkind = "{kind}"\nmax_visits = 3\n'
    for number, name, kind in (
        (20, "Rough turn", "machining"),
        (30, "Bore", "machining"),
        (40, "Look at the bore", "inspection"),
        (50, "Finish turn", "machining"),
        (60, "Check the wall", "inspection"),
    )
)


@dataclass
class CaseShop:
    """What is done with cases."""

    floor: Floor
    at: dict[str, int] = field(default_factory=dict)
    """Case to the step it is in work at."""

    def bring_to(self, serial: str, step: int) -> None:
        """Create a case, or go on with it, until it is in work at a step."""
        before = self.at.get(serial)
        if before is None:
            self.floor.book("create", serial, product=PRODUCT)
        else:
            self.floor.book("end", serial, _who(before), step=before, outcome="pass")
        for number in range(20 if before is None else before + 10, step, 10):
            self.floor.visit(serial, number, who=_who(number))
        self.floor.book("begin", serial, _who(step), step=step)
        self.at[serial] = step

    def keep(
        self, serial: str, readings: tuple[WallReading, ...], **given: Any
    ) -> dict[str, Any]:
        """Keep a set of readings at the step the case is in work at."""
        given.setdefault("key", self.floor.key())
        given.setdefault("method", "ultrasonic")
        return self.floor.do(KeepWall(serial=serial, readings=readings, **given), MAKER)

    def read_at(
        self,
        serial: str,
        step: int,
        off_mm: Callable[[float, float], float] = lambda _s, _a: 0.0,
        **given: Any,
    ) -> dict[str, Any]:
        """Bring a case to a step and read its wall there, off the plan by so much."""
        self.bring_to(serial, step)
        return self.keep(serial, wall_of(make_plan(), step, off_mm), **given)

    def withdraw(self, serial: str, entry: int, reason: str = "wrong zero") -> dict[str, Any]:
        """A set does not count any more."""
        command = WithdrawWall(serial=serial, entry=entry, reason=reason, key=self.floor.key())
        return self.floor.do(command, QUALITY)

    def sets(self, serial: str, as_of_us: int | None = None) -> list[WallSet]:
        """Every set of a case, as known now or then."""
        with self.floor.ledger.read(CODE, as_of_us) as read:
            return read_sets(read, serial=serial)


def _who(step: int) -> Actor:
    return INSPECTOR if step in (40, 60) else MAKER


def commands(key: str = "cs") -> tuple[tuple[Command, Actor], ...]:
    """What puts the product and its wall plan into any site."""
    return (
        (LoadRoute(card=parse_route(ROUTE)), SYSTEM),
        (SetWallPlan(plan=make_plan(), reason="first", key=f"{key}-plan"), QUALITY),
    )


def open_case_shop(url: str) -> CaseShop:
    """A new store with the case shop in it."""
    shop = CaseShop(open_floor(url))
    for command, who in commands():
        shop.floor.do(command, who)
    return shop

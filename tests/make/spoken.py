"""The record that the examples of the API's document speak of: one small shop that has them.

Every example of a request in the document is true here, so that it is answered and not only
refused: the product, its blades and set, a blade that waits at step 10, a furnace run under
way, a person of each role.
"""

from __future__ import annotations

from typing import Final

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sets.service import Reserve
from ringwright.sites.service import ExtendSite
from ringwright.sites.site import ROLES
from ringwright.sites.toml import parse_site
from tests.make import cases, furnaces, welds
from tests.make.shop import HEADER, ROUTE, SITE, events, open_shop

PRODUCT: Final = "HF22-BLADE"
CHARACTERISTIC: Final = """
[[step.characteristic]]
code = "sheet_thickness"
nominal = 2.4
lower = 2.3
upper = 2.5
unit = "mm"
decimals = 3
[[step]]
number = 20
"""
BLADES: Final = tuple(f"B-{number}" for number in range(1001, 1013))
NAMES: Final[dict[str, list[str | int | float]]] = {
    "product": [PRODUCT, "VANE"],
    "serial": [*BLADES[8:], "B-1042", "V-004", "C-1042", "C22-0041"],
    "part": ["B-1001", "V-004"],
    "set": ["HF22-S001"],
    "run": ["HF-1-0001"],
    "week": ["2026-W40", "2026-W39"],
    "first": ["2026-W39", "2026-W40"],
    "last": ["2026-W40"],
    "lot": ["L-88"],
    "person": ["inspector-1"],
    "by": ["inspector-1", "week", "product"],
    "characteristic": ["sheet_thickness"],
    "unit": ["mm"],
    "gauge": ["MIC-4"],
    "as_of": ["2026-09-29T12:00:00+02:00", "2026-10-01T11:59:00Z"],
    "at": ["2026-10-01T12:00:00+02:00", "2026-09-30T09:00:00Z"],
}
"""Names of this record by the parameter or field that takes them."""


def person_of(role: str) -> str:
    """The code of the one who has that role here."""
    return f"{role}-1"


def open_spoken(url: str) -> Ledger:
    """The record in an empty, migrated store, at noon of Thursday 1 October 2026."""
    ledger = open_shop(url)
    people = "".join(f'[[person]]\ncode = "{person_of(r)}"\nroles = ["{r}"]\n' for r in ROLES)
    card = ROUTE.replace("VANE", PRODUCT).replace("[[step]]\nnumber = 20\n", CHARACTERISTIC)
    rows = "".join(events(blade, "2026-09-28").replace("VANE", PRODUCT) for blade in BLADES)
    waiting = f"2026-09-30T07:00+02:00,B-1042,{PRODUCT},create,,,,,,,L-88,,\n"
    for command in (
        ExtendSite(file=parse_site(SITE + people, "site")),
        LoadRoute(card=parse_route(card, "route")),
        LoadHistory(rows=read_csv(HEADER + rows + waiting)),
    ):
        ledger.execute("NORD", command, SYSTEM)
    planner = Actor(code=person_of("planner"), roles=frozenset({"planner"}))
    first = Reserve(key="s-1", product=PRODUCT, slots=BLADES[:4])
    assert ledger.execute("NORD", first, planner)["set"] == "HF22-S001"
    for made, who in furnaces.commands():
        ledger.execute("NORD", made, who)
    assert furnaces.start_run(ledger, "NORD", "B-2101") == "HF-1-0001"
    welds.begin_ring(ledger, "NORD", "C-1042")
    for made, who in cases.commands():
        ledger.execute("NORD", made, who)
    case = "2026-10-01T07:00+02:00,C22-0041,X-CASE,create,,,,,,,,,\n"
    case += "2026-10-01T08:00+02:00,C22-0041,X-CASE,begin,20,,,,,,,,\n"
    ledger.execute("NORD", LoadHistory(rows=read_csv(HEADER + case)), SYSTEM)
    return ledger

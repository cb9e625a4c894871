"""A small shop with a record, for tests of pages: one site, two products, a week's events."""

from __future__ import annotations

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.ledger.service import Ledger
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from tests.make.kept import opened

STUDY = 1
"""The number of the gauge study that tests of pages add."""
NOW = "2026-10-01T12:00:00+02:00"
SITE = """
[site]
code = "NORD"
name = "Nordvik Rotor Shop"
zone = "Europe/Oslo"
[[calendar]]
code = "shop"
[[calendar.shift]]
days = ["mon-fri"]
start = "06:00"
end = "22:00"
[[person]]
code = "insp-1"
roles = ["inspector"]
[[gauge]]
code = "SCALE-1"
kind = "moment-scale"
unit = "g_mm"
uncertainty = 8.0
calibrated = "2026-03-01"
due = "2027-02-28"
[[master]]
code = "MB-1"
gauge_kind = "moment-scale"
unit = "g_mm"
value = 250000
allowed = 25
"""
ROUTE = """
[product]
code = "VANE"
name = "Guide vane"
target_per_week = 4
[[step]]
number = 10
name = "Grind"
kind = "machining"
planned_hours = 1.0
queue_hours = 2.0
[[step]]
number = 20
name = "Inspect"
kind = "inspection"
planned_hours = 0.5
queue_hours = 1.0
"""
HEADER = "at,serial,product,act,step,outcome,defect,characteristic,value,unit,lot,station,by\n"
REST = ",,,,,,"


def events(serial: str, day: str, outcome: str = "pass", defect: str = "") -> str:
    """One vane from creation to the end of its inspection, within a day."""
    moments = [f"{day}T{hour}+02:00" for hour in ("07:00", "08:00", "09:00", "10:00", "11:00")]
    rows = (("create", "", ""), ("begin", "10", ""), ("end", "10", "pass"), ("begin", "20", ""))
    lines = [
        f"{at},{serial},VANE,{act},{step},{result},{REST}\n"
        for at, (act, step, result) in zip(moments, rows, strict=False)
    ]
    return "".join(lines) + f"{moments[4]},{serial},VANE,end,20,{outcome},{defect}{REST}\n"


HISTORY = (
    HEADER
    + events("V-001", "2026-09-28")
    + events("V-002", "2026-09-29")
    + events("V-003", "2026-09-30", "scrap", "chatter marks")
    + f"2026-09-30T07:00+02:00,V-004,VANE,create,,,{REST}\n"
    + f"2026-09-30T09:00+02:00,V-004,VANE,hold,10,,{REST}\n"
)


def open_shop(url: str, history: str = HISTORY) -> Ledger:
    """The shop's record in an empty, migrated store, at noon of Thursday 1 October 2026."""

    def furnish(ledger: Ledger) -> None:
        ledger.open_site("NORD")
        ledger.execute("NORD", ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
        ledger.execute("NORD", LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)
        if history:
            ledger.execute("NORD", LoadHistory(rows=read_csv(history)), SYSTEM)

    return opened(url, FixedClock(parse_instant(NOW)), furnish, SITE, ROUTE, history)

"""A shop with readings to take and people in every role, for tests of the Bench's pages."""

from __future__ import annotations

import re
from typing import Any

from starlette.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.clock import Clock, FixedClock
from ringwright.core.instants import parse_instant
from ringwright.ledger.service import Ledger
from ringwright.parts.queries import read_events, read_part
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.settings import Settings
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from ringwright.web.factory import create_app
from tests.make.html import read
from tests.make.kept import opened
from tests.make.signing import signed_in

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
name = "day"
[[station]]
code = "B4"
name = "Bench 4"
calendar = "shop"
""" + "".join(
    f'[[person]]\ncode = "{code}"\nroles = ["{role}"]\n'
    for code, role in (
        ("insp-1", "inspector"),
        ("make-1", "maker"),
        ("sup-1", "supervisor"),
        ("qe-1", "quality-engineer"),
        ("da-1", "design-authority"),
        ("adm-1", "administrator"),
    )
)
ROUTE = """
[product]
code = "VANE"
name = "Guide vane"
family = "turbine-blade"
target_per_week = 4
[[step]]
number = 10
name = "Grind"
kind = "machining"
[[step]]
number = 20
name = "Inspect"
kind = "inspection"
[[step.characteristic]]
code = "chord"
nominal = 10.0
lower = 9.5
upper = 10.5
unit = "mm"
decimals = 2
[[step.characteristic]]
code = "twist"
lower = 1.0
upper = 2.0
unit = "deg"
decimals = 1
[[step]]
number = 30
name = "Weigh"
kind = "inspection"
[[rework_card]]
code = "R1"
name = "Grind again"
raised_at = 20
repeat = [10]
"""
HEADER = "at,serial,product,act,step,outcome,defect,characteristic,value,unit,lot,station,by\n"


def ground_parts(*serials: str) -> str:
    """A history: each part created and ground, waiting for its inspection."""
    lines = [HEADER]
    for serial in serials:
        lines.append(f"2026-10-01T07:00+02:00,{serial},VANE,create,,,,,,,,,\n")
        lines.append(f"2026-10-01T08:00+02:00,{serial},VANE,begin,10,,,,,,,,make-1\n")
        lines.append(f"2026-10-01T09:00+02:00,{serial},VANE,end,10,pass,,,,,,,make-1\n")
    return "".join(lines)


def open_bench(url: str, clock: Clock | None = None, history: str = "") -> Ledger:
    """The shop's record with parts V-1, V-2 and V-3 waiting for step 20."""

    def furnish(ledger: Ledger) -> None:
        ledger.open_site("NORD")
        ledger.execute("NORD", ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
        ledger.execute("NORD", LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)
        rows = read_csv(history or ground_parts("V-1", "V-2", "V-3"))
        ledger.execute("NORD", LoadHistory(rows=rows), SYSTEM)

    return opened(url, clock or FixedClock(parse_instant(NOW)), furnish, SITE, ROUTE, history)


class Screen:
    """One browser without scripts at one station, with one person chosen."""

    def __init__(self, url: str, ledger: Ledger, who: str = "insp-1") -> None:
        app = create_app(Settings(database_url=url), ledger)
        self.ledger = ledger
        self.client = TestClient(
            app, follow_redirects=False, headers={"Origin": "http://testserver"}
        )
        self.choose(who)

    def choose(self, who: str, station: str = "B4") -> None:
        """Sign in, and choose the station."""
        if who:
            signed_in(self.client, self.ledger, who)
        answer = self.client.post("/bench/station", data={"station": station})
        assert answer.status_code == 303

    def fields(self, html: str, action: str) -> dict[str, str]:
        """The hidden fields of the form that posts to an address."""
        forms = re.findall(r"<form[^>]*?action=\"([^\"]+)\".*?</form>", html, re.S)
        assert action in forms, forms
        form = re.search(rf"<form[^>]*?action=\"{re.escape(action)}\".*?</form>", html, re.S)
        assert form is not None
        inputs = read(form[0]).tags("input")
        return {
            one["name"]: one.get("value", "")
            for one in inputs
            if "name" in one and one.get("type") not in ("radio", "checkbox", "file")
        }

    def form(self, serial: str) -> dict[str, str]:
        """The form of the part as it is drawn now."""
        drawn = self.client.get("/bench", params={"scan": serial}).text
        return self.fields(drawn, f"/bench/acts/{serial}")

    def press(self, serial: str, act: str, **given: str) -> Any:
        """Open the part and press one act."""
        return self.send(serial, self.form(serial), act, **given)

    def send(self, serial: str, form: dict[str, str], act: str, **given: str) -> Any:
        """Send a form that was drawn before."""
        return self.client.post(f"/bench/acts/{serial}", data={**form, **given, "act": act})

    def kinds(self, serial: str) -> list[str]:
        """What was booked on the part, in order."""
        with self.ledger.read("NORD") as look:
            return [row.kind for row in read_events(look, serial)]

    def part(self, serial: str) -> Any:
        """Where the part stands."""
        with self.ledger.read("NORD") as look:
            return read_part(look, serial)

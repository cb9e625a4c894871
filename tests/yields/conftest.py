"""A shop whose third furnace load went wrong: three of its five blades were scrapped for it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
from starlette.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.bench.acts import Sentence, Stop
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.people.service import make_token
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.floor import CODE, INSPECTOR, QUALITY, Floor
from tests.make.signing import open_to_readers

ROUTE = """
[product]
code = "FAN"
name = "Fan blade"
family = "fan-blade"
[[step]]
number = 10
name = "Form"
kind = "forming"
[[step]]
number = 20
name = "Inflate"
kind = "heat-cycle"
[[step]]
number = 30
name = "Measure"
kind = "inspection"
[[step]]
number = 40
name = "Release"
kind = "dispatch"
"""
HEADER = "at,serial,product,act,step,outcome,defect,station,lot,characteristic,value,unit,by\n"
BAD = "F-1@2026-09-23T11:00:00+02:00"
PLACES = ("Upper cavity", "mid-cavity", "behind the ear")


def story(serial: str, load: int) -> str:
    """A blade's rows: its load began at 11:00 of the load's day, 21 September on."""
    day = datetime.fromisoformat("2026-09-21T00:00+02:00") + timedelta(days=load)

    def row(hour: int, act: str, step: str = "", outcome: str = "", more: str = ",,") -> str:
        at = (day + timedelta(hours=hour)).isoformat()
        return f"{at},{serial},FAN,{act},{step},{outcome},{more},,,,\n"

    told = row(8, "create", more=f",,LOT-{load % 2}") + row(9, "begin", "10")
    told += row(10, "end", "10", "pass") + row(11, "begin", "20", more=",F-1,")
    told += row(14, "end", "20", "pass") + row(15, "begin", "30")
    if load == 2 and serial[-1] in "123":
        return told
    return (
        told
        + row(16, "end", "30", "pass")
        + row(17, "begin", "40")
        + row(18, "end", "40", "pass")
    )


@pytest.fixture
def fans(sqlite_floor: Floor) -> Floor:
    """The shop with its bad load."""
    return make_fans(sqlite_floor)


def make_fans(floor: Floor) -> Floor:
    """Five loads of five blades; of the third, three were stopped and scrapped on Monday."""
    floor.ledger.execute(CODE, LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)
    rows = "".join(story(f"B{load}-{n}", load) for load in range(5) for n in range(1, 6))
    floor.ledger.execute(CODE, LoadHistory(rows=read_csv(HEADER + rows)), SYSTEM)
    for n, place in enumerate(PLACES, start=1):
        stop = Stop(
            serial=f"B2-{n}", key=floor.key(), defect="core buckled", place_on_part=place
        )
        number = floor.do(stop, INSPECTOR)["event"]["site_seq"]
        floor.do(
            Sentence(
                serial=f"B2-{n}", key=floor.key(), nonconformity=number, decision="scrap",
                caused_step=20, defect="core buckled", reason="r", kept="marked",
            ),
            QUALITY,
        )  # fmt: skip
    return floor


@pytest.fixture
def client(fans: Floor) -> Iterator[TestClient]:
    """A browser on that shop."""
    app = create_app(Settings(database_url=str(fans.ledger.store.engine.url)), fans.ledger)
    open_to_readers(app)
    with TestClient(app, follow_redirects=False) as browser:
        yield browser


@pytest.fixture
def bearer(fans: Floor) -> dict[str, str]:
    """A manager's token, as a header."""
    with fans.ledger.read(CODE) as read:
        site_id, now_us = read.site.id, read.now_us
    token = make_token(fans.ledger.store, site_id, "manager", None, now_us)
    return {"Authorization": f"Bearer {token}"}

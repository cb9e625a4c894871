"""A real site with a practice site beside it, in which the small shop's week was practised."""

from __future__ import annotations

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.ground.practice import open_practice
from ringwright.heatruns.running import OpenRun
from ringwright.ledger.service import Answer, Ledger
from ringwright.ledger.transaction import Actor
from ringwright.paper.service import MakePack
from ringwright.sets.service import Reserve
from ringwright.trace.question import Question
from ringwright.trace.service import Contain
from tests.make import furnaces, machining, shop, swarf
from tests.make.films import attach_film
from tests.make.floor import MAKER
from tests.make.gauges import small_study

REAL, CODE = "NORD", "NORD-PRACTICE"
ACTOR = Actor(code="sup-1", roles=frozenset({"supervisor", "quality-engineer", "planner"}))


def practise(ledger: Ledger, parts: int = 0) -> Answer:
    """Open the practice site, or bring it up to date."""
    return open_practice(ledger, None, None, parts, SYSTEM)


def open_practised(url: str, real: str = "") -> Ledger:
    """The shop (with that history) and its practice site with a week's history of its own."""
    ledger = shop.open_shop(url, real)
    practise(ledger, parts=2)
    ledger.execute(CODE, LoadHistory(rows=read_csv(shop.HISTORY)), SYSTEM)
    suspect = Question(kind="part", value="V-004")
    plans = (("V-004", "keep"),)
    ledger.execute(
        CODE, Contain(key="c-1", reason="chatter marks", question=suspect, plans=plans), ACTOR
    )
    ledger.execute(CODE, Reserve(key="s-1", product="VANE", slots=("V-001", "V-002")), ACTOR)
    for code in (REAL, CODE) if real else (CODE,):
        ledger.execute(code, small_study("SCALE-1", "moment", "g_mm"), ACTOR)
        ledger.execute(code, MakePack(key="p-1"), ACTOR)
        for command, who in (*furnaces.commands(), *machining.commands()):
            ledger.execute(code, command, who)
        run = OpenRun(furnace=furnaces.FURNACE, recipe=furnaces.RECIPE, key="run")
        ledger.execute(code, run, MAKER)
        attach_film(ledger, code, "V-001")
        swarf.sample(ledger, code)
    return ledger

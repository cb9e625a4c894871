"""The application on a small shop's record, asked as a browser would."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from ringwright.heatruns.running import OpenRun
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor
from ringwright.paper.service import MakePack
from ringwright.sets.service import Reserve
from ringwright.settings import Settings
from ringwright.trace.question import Question
from ringwright.trace.service import Contain
from ringwright.web.factory import create_app
from tests.make import films, furnaces, machining, shop, swarf
from tests.make.floor import MAKER
from tests.make.gauges import small_study
from tests.make.signing import open_to_readers


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    """The small shop's record, at noon of Thursday 1 October 2026."""
    record = shop.open_shop(sqlite_url)
    yield record
    record.store.close()


@pytest.fixture
def app(sqlite_url: str, ledger: Ledger) -> FastAPI:
    """The whole application on that record."""
    return open_to_readers(create_app(Settings(database_url=sqlite_url), ledger))


@pytest.fixture
def client(app: FastAPI) -> TestClient:
    """A browser without scripts; the live watch stands still."""
    return TestClient(app, follow_redirects=False)


@pytest.fixture
def contained(app: FastAPI, ledger: Ledger) -> TestClient:
    """As `client`; V-004 is in containment C-1, V-001 and V-002 are the set VANE-S001; SCALE-1
    was studied, P-0001 is a pack of paper, HF-1-0001 a run that is loading in HF-1, and
    SW-0001 a swarf container; V-001 has a radiograph."""
    contain(ledger)
    return TestClient(app, follow_redirects=False)


@pytest.fixture(scope="module")
def looked_at(
    _sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[TestClient]:
    """As `contained`, one for all tests of a module: for those that only look."""
    store = shutil.copy(_sqlite_template, tmp_path_factory.mktemp("looked") / "store.sqlite")
    url = f"sqlite:///{store}"
    record = shop.open_shop(url)
    contain(record)
    settings = Settings(database_url=url, exports_a_minute=10_000)
    yield TestClient(open_to_readers(create_app(settings, record)), follow_redirects=False)
    record.store.close()


def contain(ledger: Ledger) -> None:
    """What `contained` holds beside the shop."""
    suspect = Question(kind="part", value="V-004")
    command = Contain(
        key="c-1", reason="chatter marks", question=suspect, plans=(("V-004", "keep"),)
    )
    quality = Actor(code="qe-1", roles=frozenset({"quality-engineer"}))
    assert ledger.execute("NORD", command, quality)["containment"] == "C-1"
    planner = Actor(code="plan-1", roles=frozenset({"planner"}))
    pair = Reserve(key="s-1", product="VANE", slots=("V-001", "V-002"))
    assert ledger.execute("NORD", pair, planner)["set"] == "VANE-S001"
    study = small_study("SCALE-1", "moment", "g_mm")
    assert ledger.execute("NORD", study, quality)["study"] == shop.STUDY
    assert ledger.execute("NORD", MakePack(key="p-1"), quality)["pack"] == "P-0001"
    for made, who in (*furnaces.commands(), *machining.commands()):
        ledger.execute("NORD", made, who)
    run = OpenRun(furnace=furnaces.FURNACE, recipe=furnaces.RECIPE, key="run")
    assert ledger.execute("NORD", run, MAKER)["run"] == "HF-1-0001"
    films.attach_film(ledger, "NORD", "V-001")
    swarf.sample(ledger, "NORD")

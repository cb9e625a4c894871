"""Welds over HTTP, as another program uses them."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.floor import MAKER
from tests.make.welds import WeldShop, open_weld_shop


@pytest.fixture
def shop(sqlite_url: str) -> WeldShop:
    """R-1 is in work at the weld cell."""
    shop = open_weld_shop(sqlite_url)
    shop.waiting("R-1")
    shop.floor.book("begin", "R-1", MAKER, step=20)
    return shop


@pytest.fixture
def client(shop: WeldShop) -> TestClient:
    """A program without cookies."""
    ledger = shop.floor.ledger
    return TestClient(create_app(Settings(database_url=str(ledger.store.engine.url)), ledger))


def bearer(shop: WeldShop, role: str, code: str) -> dict[str, str]:
    """The token of one person."""
    now_us = shop.floor.clock.at_us
    token = make_token(shop.floor.ledger.store, 1, role, code, now_us)
    return {"Authorization": f"Bearer {token}"}


FITTED: dict[str, Any] = {
    "key": "cell-1",
    "serial": "R-1",
    "act": "vanes-fitted",
    "said": {"vanes": [{"vane": 1, "radial_mm": 0.1, "axial_mm": 0.2}]},
}


def test_a_program_records_and_asks(client: TestClient, shop: WeldShop) -> None:
    maker = bearer(shop, "maker", "maker-1")
    told = client.post("/api/case/welds", json=FITTED, headers=maker)
    assert told.status_code == 200, told.text
    again = client.post("/api/case/welds", json=FITTED, headers=maker)
    assert again.json() == told.json()

    ring = client.get("/api/case/welds/R-1", headers=maker).json()
    assert (ring["product"], ring["revision"], len(ring["left"])) == ("RING", "1", 8)
    assert ring["welds"][0] == {
        "weld": "1-OUT", "state": "not welded", "next": "weld it", "repairs": 0, "film": None,
    }  # fmt: skip
    assert ring["entry"] == told.json()["entry"]


def test_what_is_refused_says_why(client: TestClient, shop: WeldShop) -> None:
    maker = bearer(shop, "maker", "maker-1")
    wrong = {**FITTED, "key": "cell-2", "said": {"vanes": [{"vane": "one"}]}}
    refused = client.post("/api/case/welds", json=wrong, headers=maker)
    assert refused.status_code == 422
    assert "vane must be a whole number" in refused.json()["detail"]
    other = {**FITTED, "key": "cell-3", "act": "film-read", "said": {"film": "A"}}
    assert client.post("/api/case/welds", json=other, headers=maker).status_code == 403
    assert client.get("/api/case/welds/NONE", headers=maker).status_code == 404

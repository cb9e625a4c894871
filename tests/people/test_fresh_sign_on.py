"""Who signs in at the shop's server alone has no password to prove (ASVS 5.0.0, 7.5.1)."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.people.accounts import Desk, has_way_in, set_outside_subject
from ringwright.people.auditing import Asker
from ringwright.people.signing import Doorkeeper, open_session
from ringwright.people.throttle import Throttle
from ringwright.people.visitor import SESSION
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.bench import NOW, open_bench

MINUTE_US = 60 * 1_000_000


def pin_after(url: str, minutes: int, way: str) -> Any:
    """The answer to setting a PIN so long after signing in that way, and the record."""
    clock = FixedClock(parse_instant(NOW))
    ledger = open_bench(url, clock)
    asker = Asker(address="testclient")
    desk = Desk(ledger=ledger, site_id=1, site="NORD", actor="adm-1", asker=asker)
    set_outside_subject(desk, "adm-1", "somebody@shop")
    keeper = Doorkeeper(ledger=ledger, throttle=Throttle(), asker=asker)
    secret = open_session(keeper, 1, "adm-1", way)
    clock.at_us += minutes * MINUTE_US
    app = create_app(Settings(database_url=url), ledger)
    client = TestClient(app, follow_redirects=False, cookies={SESSION: secret})
    sent = {"act": "pin", "current": "", "pin": "918273"}
    answer = client.post("/account", data=sent, headers={"Sec-Fetch-Site": "same-origin"})
    assert has_way_in(ledger)
    ledger.store.close()
    return answer


def test_a_pin_is_set_just_after_signing_in_at_the_shops_server(sqlite_url: str) -> None:
    assert pin_after(sqlite_url, 9, "sign-on").status_code == 303


@pytest.mark.parametrize(("minutes", "way"), [(11, "sign-on"), (1, "code")])
def test_later_or_otherwise_it_is_not(sqlite_url: str, minutes: int, way: str) -> None:
    answer = pin_after(sqlite_url, minutes, way)

    assert answer.status_code == 422
    assert "sign in by the shop&#39;s server again" in answer.text

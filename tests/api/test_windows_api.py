"""A window over HTTP: a begin too late is refused, and what may be booked in its place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.core.clock import FixedClock
from ringwright.core.instants import HOUR_US
from ringwright.people.service import make_token
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.shop import open_shop
from tests.make.windows import FIN


class Caller:
    """A supervisor's token, and the clock of the server."""

    def __init__(self, client: TestClient, token: str, clock: FixedClock) -> None:
        self.client, self.clock = client, clock
        self.headers = {"Authorization": f"Bearer {token}"}
        self.keys = iter(range(1000))

    def book(self, act: str, **rest: Any) -> Any:
        body = {"key": f"k{next(self.keys)}", "act": act, "serial": "P-1", **rest}
        return self.client.post("/api/bookings", json=body, headers=self.headers)

    def visit(self, step: int) -> None:
        for act, rest in (("begin", {}), ("end", {"outcome": "pass"})):
            assert self.book(act, step=step, **rest).status_code == 200


@pytest.fixture
def caller(store_url: str) -> Iterator[Caller]:
    """P-1 is washed and dried at noon; its window is three hours."""
    ledger = open_shop(store_url, history="")
    ledger.execute("NORD", LoadRoute(card=parse_route(FIN, "route")), SYSTEM)
    client = TestClient(create_app(Settings(database_url=store_url), ledger))
    token = make_token(ledger.store, 1, "supervisor", None, ledger.clock.now_us())
    assert isinstance(ledger.clock, FixedClock)
    found = Caller(client, token, ledger.clock)
    assert found.book("create", product="FIN").status_code == 200
    for step in (10, 20, 30):
        found.visit(step)
    yield found
    ledger.store.close()


def test_a_begin_too_late_is_refused_with_both_ways_on(caller: Caller) -> None:
    caller.clock.at_us += 3 * HOUR_US + 1

    answer = caller.book("begin", step=40)

    assert answer.status_code == 422
    assert answer.json() == {
        "error": "window",
        "detail": "the window of P-1 ran out at 2026-10-01 15:00+02:00: step 40 had to begin "
        "within 3 h of the end of step 20. Clean it again (step 20 Wash), or hold it for the "
        "design authority (window ran out)",
    }
    part = caller.client.get("/api/parts/P-1", headers=caller.headers).json()
    assert (part["place"], part["step"]) == ("waiting", 40)


def test_a_begin_at_the_deadline_is_booked(caller: Caller) -> None:
    caller.clock.at_us += 3 * HOUR_US

    assert caller.book("begin", step=40).status_code == 200


def test_a_begin_with_an_hour_of_its_own_inside_the_window_is_booked(caller: Caller) -> None:
    caller.clock.at_us += 5 * HOUR_US

    assert caller.book("begin", step=40, at="2026-10-01T15:00:00.000001+02:00").json()[
        "error"
    ] == ("window")
    answer = caller.book("begin", step=40, at="2026-10-01T15:00:00+02:00")

    assert answer.status_code == 200
    assert answer.json()["event"]["at"] == "2026-10-01T15:00:00+02:00"


def test_it_is_cleaned_again_and_shows_no_field_of_its_own(caller: Caller) -> None:
    caller.clock.at_us += 4 * HOUR_US

    answer = caller.book("begin", step=20)

    assert answer.status_code == 200
    assert set(answer.json()["event"]) == {
        "site_seq", "key", "act", "serial", "step", "at",
    }  # fmt: skip
    assert answer.json()["part"]["step"] == 20
    caller.book("end", step=20, outcome="pass")
    caller.visit(30)
    assert caller.book("begin", step=40).status_code == 200


def test_what_says_itself_that_it_renews_a_window_is_malformed(caller: Caller) -> None:
    assert caller.book("begin", step=20, renews=40).status_code == 422


def test_before_it_ran_out_nothing_is_cleaned_again(caller: Caller) -> None:
    answer = caller.book("begin", step=20)

    assert (answer.status_code, answer.json()["error"]) == (422, "refused")
    assert "lies behind the step awaited (40)" in answer.json()["detail"]

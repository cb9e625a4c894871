"""A wall screen: let in for good, only to look, and out at once when it is ended.

Sources: OWASP ASVS 5.0.0, 7.4.1 and 7.4.5 (ended at once), 8.2.1; RFC 6265bis, 5.5 (a cookie
lives 400 days at most).
"""

from __future__ import annotations

import asyncio
from http.cookies import SimpleCookie
from typing import Any

import pytest
from fastapi import FastAPI, Request
from starlette.responses import StreamingResponse
from starlette.testclient import TestClient

from ringwright.core.instants import HOUR_US
from ringwright.live.pages import stream
from ringwright.live.stream import ASK_EVERY_S, Watch
from ringwright.people import devices
from ringwright.people.visitor import DEVICE
from tests.make.people import House, cookie_in

DAY_US = 24 * HOUR_US


@pytest.fixture
def wall(house: House) -> TestClient:
    """The screen on the north wall."""
    return house.device("wall", label="north wall", station="")


def end(house: House) -> None:
    for row in devices.devices(house.ledger, house.site_id):
        devices.end_device(house.desk, row.hash[:16])


@pytest.mark.parametrize("path", ["/week", "/floor", "/floor/wall"])
def test_a_wall_sees_the_week_and_the_floor(wall: TestClient, path: str) -> None:
    assert wall.get(path).status_code == 200


def test_a_wall_is_led_to_its_own_page(house: House) -> None:
    code = devices.invite(house.desk, "wall", "", "north wall")

    answer = house.browser().post("/device", data={"one_time": code})

    assert answer.headers["location"] == "/floor/wall"


def test_a_wall_books_nothing_signed_or_not(house: House, wall: TestClient) -> None:
    badge = house.badge("sup-1")
    before = house.ledger.head("NORD")

    for path, act in (("/bench/acts/V-1", "begin"), ("/floor/move", ""), ("/week/publish", "")):
        answer = wall.post(path, data={"act": act, "key": "k", "by.badge": badge})
        assert answer.status_code in (403, 404), path
    assert house.ledger.head("NORD") == before


def test_a_wall_is_let_in_for_good(house: House, wall: TestClient) -> None:
    for _ in range(24):
        house.clock.at_us += 30 * DAY_US
        assert wall.get("/floor/wall").status_code == 200


def test_its_cookie_is_handed_out_anew_while_it_is_used(house: House, wall: TestClient) -> None:
    secret = wall.cookies[DEVICE]
    assert "set-cookie" not in wall.get("/floor/wall").headers

    house.clock.at_us += HOUR_US
    asked = wall.get("/floor/wall", headers={"HX-Request": "true"})

    given = SimpleCookie(cookie_in(asked, DEVICE))[DEVICE]
    assert (given.value, given["httponly"], given["samesite"]) == (secret, True, "lax")
    assert int(given["max-age"]) == 400 * 24 * 3600
    assert "set-cookie" not in wall.get("/floor/wall").headers


def test_a_wall_that_was_ended_is_out_at_once(house: House, wall: TestClient) -> None:
    assert wall.get("/week").status_code == 200

    end(house)

    assert wall.get("/week").status_code == 303
    assert wall.get("/live").status_code == 303


def asking(app: FastAPI, wall: TestClient) -> Request:
    """The request of the wall's page for its stream."""
    cookie = f"{DEVICE}={wall.cookies[DEVICE]}"
    return Request(
        {
            "type": "http",
            "method": "GET",
            "path": "/live",
            "scheme": "http",
            "query_string": b"",
            "headers": [(b"cookie", cookie.encode())],
            "app": app,
        }
    )


async def heard(house: House, request: Request, then: Any) -> list[str]:
    """What the stream says until it ends, `then` being done after its first word."""
    answer = await stream(request)
    assert isinstance(answer, StreamingResponse)
    told = []
    async with asyncio.timeout(5):
        async for word in answer.body_iterator:
            told.append(str(word))
            if len(told) == 1:
                then(house)
            if len(told) == 4:
                break
    return told


def test_its_stream_ends_within_a_minute_of_its_end(house: House, wall: TestClient) -> None:
    assert ASK_EVERY_S <= 60
    house.app.state.watch = Watch(house.ledger.heads, ask_every_s=0.05)
    request = asking(house.app, wall)

    ended = asyncio.run(heard(house, request, end))

    assert ended[0].startswith("event: ledger")
    assert len(ended) < 4


def test_the_stream_of_a_wall_let_in_goes_on(house: House, wall: TestClient) -> None:
    house.app.state.watch = Watch(house.ledger.heads, ask_every_s=0.02)
    request = asking(house.app, wall)

    going_on = asyncio.run(heard(house, request, lambda _house: None))

    assert len(going_on) == 4


def test_a_persons_stream_ends_with_their_sign_in(house: House) -> None:
    house.app.state.watch = Watch(house.ledger.heads, ask_every_s=0.05)
    browser = house.signed_in("insp-1")
    request = asking(house.app, house.device("wall"))
    request.scope["headers"] = [
        (b"cookie", f"ringwright={browser.cookies['ringwright']}".encode())
    ]

    def sign_out(_house: House) -> None:
        assert browser.post("/sign-out").status_code == 303

    assert len(asyncio.run(heard(house, request, sign_out))) < 4

"""Files are held back where somebody takes them faster than they read (ASVS 2.4.1, 15.2.2)."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.routing import Route
from starlette.testclient import TestClient

from ringwright.kit.address import client_address
from ringwright.ledger.service import Ledger
from ringwright.settings import Settings
from ringwright.web.exports import Exports, is_export
from ringwright.web.factory import create_app, room_routers
from tests.make.signing import open_to_readers


@pytest.fixture
def app(sqlite_url: str, ledger: Ledger) -> FastAPI:
    """The small shop, where three files a minute are enough."""
    return open_to_readers(
        create_app(Settings(database_url=sqlite_url, exports_a_minute=3), ledger)
    )


def test_every_route_that_makes_a_file_is_held_back_and_no_other() -> None:
    routes = [r for router in room_routers() for r in router.routes if isinstance(r, Route)]
    files = [route.path for route in routes if "form" in route.param_convertors]

    assert len(files) > 8
    assert all(is_export(path) for path in files)
    assert not any(is_export(r.path) for r in routes if "form" not in r.param_convertors)


def test_the_fourth_file_of_a_minute_waits_and_says_how_long(client: TestClient) -> None:
    first = [client.get(f"/week/file.{form}").status_code for form in ("csv", "xlsx", "csv")]
    fourth = client.get("/floor/file.csv")

    assert first == [200, 200, 200]
    assert fourth.status_code == 429
    assert 1 <= int(fourth.headers["retry-after"]) <= 60
    assert "3 files a minute are enough" in fourth.text
    assert client.get("/week").status_code == 200


def test_each_address_has_its_own_measure(app: FastAPI) -> None:
    here = TestClient(app, client=("10.0.0.7", 1))
    there = TestClient(app, client=("10.0.0.8", 1))

    told = [here.get("/week/file.csv").status_code for _ in range(4)]

    assert told == [200, 200, 200, 429]
    assert there.get("/week/file.csv").status_code == 200


@pytest.fixture
def slow() -> tuple[Exports, asyncio.Event]:
    """A door behind which a file is made until it is told to be ready."""
    ready = asyncio.Event()

    async def make(_scope: Any, _receive: Any, send: Any) -> None:
        await ready.wait()
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"a,b"})

    return Exports(make, a_minute=10, asker=client_address), ready


def test_one_file_at_a_time(slow: tuple[Exports, asyncio.Event]) -> None:
    door, ready = slow

    async def status(host: str) -> int:
        heard: list[int] = []

        async def send(message: Any) -> None:
            heard.append(message.get("status", 0))

        await door(_scope(host), _nothing, send)
        return heard[0]

    async def both() -> list[int]:
        first = asyncio.create_task(status("10.0.0.7"))
        await asyncio.sleep(0)
        second = await asyncio.wait_for(status("10.0.0.7"), 5)
        other = asyncio.create_task(status("10.0.0.8"))
        ready.set()
        return [await first, second, await other, await status("10.0.0.7")]

    assert asyncio.run(both()) == [200, 429, 200, 200]


async def _nothing() -> dict[str, Any]:
    return {"type": "http.request", "body": b"", "more_body": False}


def _scope(host: str) -> dict[str, Any]:
    app = FastAPI()
    return {
        "type": "http", "method": "GET", "path": "/api/file.csv", "query_string": b"",
        "headers": [(b"host", b"localhost")], "client": (host, 1), "app": app,
        "server": ("localhost", 80), "scheme": "http", "root_path": "",
    }  # fmt: skip

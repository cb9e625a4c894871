"""Clients that send a byte at a time hold nobody up (OWASP ASVS 5.0.0, 15.2.2).

That such clients exhaust servers with a thread a connection is common knowledge, no source.
"""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI

from ringwright.settings import Settings
from ringwright.web import serving as served
from ringwright.web.factory import create_app
from tests.make import shop
from tests.make.listening import ask, listening
from tests.make.signing import open_to_readers
from tests.reliability.server import calling, serving, tokens

pytestmark = pytest.mark.reliability

SLOW = 100
BOOKINGS = 40
HEAD = b"GET /week HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
BODY = (
    b"POST /api/bookings HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
    b"Content-Length: 500\r\n\r\n{"
)


@contextlib.contextmanager
def slowly(port: int, count: int) -> Iterator[list[socket.socket]]:
    """So many clients that send a byte every tenth of a second: heads, bodies, nothing."""
    starts = (HEAD, BODY, b"")
    wires = [socket.create_connection(("127.0.0.1", port), timeout=10) for _ in range(count)]
    for number, wire in enumerate(wires):
        wire.sendall(starts[number % 3])
    over = threading.Event()

    def drip() -> None:
        while not over.wait(0.1):
            for number, wire in enumerate(wires):
                with contextlib.suppress(OSError):
                    wire.sendall(b"a" if number % 3 < 2 else b"")

    dripping = threading.Thread(target=drip)
    dripping.start()
    try:
        yield wires
    finally:
        over.set()
        dripping.join()
        for wire in wires:
            wire.close()


def test_a_hundred_slow_clients_do_not_stop_bookings(sqlite_url: str, tmp_path: Path) -> None:
    (token,) = tokens(sqlite_url, ("supervisor", None))
    with serving(sqlite_url, tmp_path / "log") as server, slowly(server.port, SLOW):
        waits = []
        with calling(server.port, token) as caller:
            for number in range(BOOKINGS):
                begun = time.monotonic()
                order = {"act": "create", "serial": f"S-{number}", "product": "OAR"}
                answer = caller.book({"key": f"slow-{number}", **order})
                waits.append(time.monotonic() - begun)
                assert answer.status == 200, answer.body

    assert max(waits) < 5, f"the slowest of {BOOKINGS} took {max(waits):.1f} s"


@pytest.fixture
def hasty(sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[FastAPI]:
    """The small shop on a server that waits half a second for a head, one for a body."""
    monkeypatch.setattr(served, "HEAD_S", 0.5)
    monkeypatch.setattr(served, "BODY_S", 1.0)
    record = shop.open_shop(sqlite_url)
    yield open_to_readers(create_app(Settings(database_url=sqlite_url), record))
    record.store.close()


def test_whoever_is_too_slow_is_hung_up_on_and_others_are_served(hasty: FastAPI) -> None:
    with listening(hasty) as port, slowly(port, 9) as wires:
        time.sleep(2.5)
        ended = []
        for wire in wires:
            wire.settimeout(0.5)
            try:
                ended.append(wire.recv(1024) == b"")
            except TimeoutError:
                ended.append(False)
            except OSError:
                ended.append(True)
        served_too = ask(port, "GET", "/week").status

    assert ended == [True] * 9
    assert served_too == 200


def test_an_open_stream_and_a_quick_client_are_not_hung_up_on(hasty: FastAPI) -> None:
    with (
        listening(hasty) as port,
        socket.create_connection(("127.0.0.1", port), timeout=5) as wire,
    ):
        wire.sendall(b"GET /live HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        heard = wire.recv(4096)
        time.sleep(2)
        wire.settimeout(0.2)
        alive = True
        try:
            while more := wire.recv(4096):
                heard += more
            alive = False
        except TimeoutError:
            pass

    assert heard.startswith(b"HTTP/1.1 200")
    assert alive

"""An application that listens on a port of this machine, and callers that speak plain bytes."""

from __future__ import annotations

import http.client
import socket
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager

from fastapi import FastAPI

from ringwright.web.serving import Serving


@contextmanager
def listening(app: FastAPI) -> Iterator[int]:
    """The port at which the real server answers for the block."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    server = Serving(app, port)
    thread = threading.Thread(target=server.run)
    thread.start()
    until = time.monotonic() + 20
    while not server.started and time.monotonic() < until:
        time.sleep(0.02)
    try:
        yield port
    finally:
        server.should_exit = True
        thread.join(10)


def ask(
    port: int, method: str, path: str, headers: Mapping[str, str] | None = None
) -> http.client.HTTPResponse:
    """One request and its answer, read to the end."""
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as wire:
        wire.request(method, path, headers=dict(headers or {}))
        answer = wire.getresponse()
        answer.read()
        return answer


def say(port: int, *pieces: bytes) -> bytes:
    """Send pieces as they are and read until the server hangs up or is silent."""
    heard = b""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as wire:
        try:
            for piece in pieces:
                wire.sendall(piece)
            wire.settimeout(3)
            while more := wire.recv(65536):
                heard += more
        except OSError:
            pass  # what was heard until then is the answer
    return heard

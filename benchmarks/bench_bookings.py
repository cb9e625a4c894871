"""How many bookings a second does the server take, and how long does one wait?

A real server on SQLite, callers in processes of their own on the same machine; a figure without
the cost of one fsync beside it says little. Run: python -m benchmarks.bench_bookings [callers]
"""

from __future__ import annotations

import http.client
import json
import os
import socket
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from benchmarks.store import CODE, PRODUCT, fill, fsync_p50_ms
from ringwright.people.service import make_token

SECONDS = 8.0


def call(port: int, token: str, caller: int) -> list[float]:
    """Book create after create for a while; the seconds each took."""
    wire = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
    taken: list[float] = []
    until = time.perf_counter() + SECONDS
    while time.perf_counter() < until:
        serial = f"B{caller}-{len(taken)}"
        body = {"key": serial, "act": "create", "serial": serial, "product": PRODUCT}
        begun = time.perf_counter()
        wire.request("POST", "/api/bookings", json.dumps(body), headers)
        answer = wire.getresponse()
        text = answer.read()
        taken.append(time.perf_counter() - begun)
        if answer.status != 200:
            raise RuntimeError(text.decode())
    wire.close()
    return taken


def wait_for(port: int) -> None:
    """Wait until the server accepts a connection."""
    for _ in range(400):
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            time.sleep(0.05)
        else:
            return
    raise RuntimeError("the server did not start")


def measure(url: str, port: int, callers: int) -> list[float]:
    """Start the server, book with so many callers, stop it; all waits in seconds, sorted."""
    ledger, _ = fill(url, 2000)
    with ledger.read(CODE) as read:
        site_id = read.site.id
    token = make_token(ledger.store, site_id, "supervisor", None, ledger.clock.now_us())
    ledger.store.close()
    server = subprocess.Popen(
        [sys.executable, "-m", "ringwright", "serve", "--port", str(port)],
        env={**os.environ, "RINGWRIGHT_DATABASE_URL": url},
        stdout=subprocess.DEVNULL,
    )
    try:
        wait_for(port)
        with ProcessPoolExecutor(callers, mp_context=get_context("spawn")) as workers:
            waits = list(workers.map(partial(call, port, token), range(callers)))
    finally:
        server.terminate()
        server.wait()
    return sorted(wait for some in waits for wait in some)


def main(callers: int = 8) -> int:
    """Measure and print."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    with tempfile.TemporaryDirectory() as name:
        waits = measure(f"sqlite:///{Path(name) / 'book.sqlite'}", port, callers)
        probe_ms = fsync_p50_ms(Path(name))
    p50, p95, p99 = (waits[int(len(waits) * q)] * 1000 for q in (0.5, 0.95, 0.99))
    print(
        f"{callers} callers: {len(waits) / SECONDS:,.0f} bookings/s, "
        f"p50 {p50:.1f} ms, p95 {p95:.1f} ms, p99 {p99:.1f} ms; fsync p50 {probe_ms:.2f} ms"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))

"""The real server in a process of its own, and callers that speak HTTP to it."""

from __future__ import annotations

import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from ringwright.people.service import make_token
from tests.make.floor import CODE, furnish

ROOT = Path(__file__).resolve().parents[2]
SERVE = "import sys; from ringwright.cli import main; sys.exit(main(sys.argv[1:]))"


def environment(url: str) -> dict[str, str]:
    """What a command of ours runs with: this copy of the package, that store."""
    return {**os.environ, "PYTHONPATH": str(ROOT), "RINGWRIGHT_DATABASE_URL": url}


def command(url: str, *words: str) -> subprocess.CompletedProcess[str]:
    """Run one command of the product on a store and wait for it."""
    return subprocess.run(
        [sys.executable, "-m", "ringwright", *words],
        env=environment(url),
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=120,
    )


def free_port() -> int:
    """A port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def tokens(url: str, *wanted: tuple[str, str | None]) -> list[str]:
    """Furnish the empty store and make a token for each (role, person)."""
    ledger = furnish(url)
    with ledger.read(CODE) as read:
        site_id = read.site.id
    made = [make_token(ledger.store, site_id, *one, ledger.clock.now_us()) for one in wanted]
    ledger.store.close()
    return made


@dataclass
class Answer:
    """What came back: the status, the bytes, and the same read as JSON."""

    status: int
    body: bytes

    @property
    def json(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)


class Caller:
    """One connection with one token."""

    def __init__(self, port: int, token: str) -> None:
        self.wire = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self.token = token

    def ask(self, method: str, path: str, body: Any = None) -> Answer:
        """Send a request and read the whole answer; raises OSError or HTTPException."""
        sent = None if body is None else json.dumps(body)
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        self.wire.request(method, path, sent, headers)
        answer = self.wire.getresponse()
        return Answer(answer.status, answer.read())

    def book(self, body: dict[str, Any]) -> Answer:
        """Post one booking."""
        return self.ask("POST", "/api/bookings", body)

    def close(self) -> None:
        """Hang up."""
        self.wire.close()


@contextmanager
def calling(port: int, token: str) -> Iterator[Caller]:
    """A caller for the block."""
    with closing(Caller(port, token)) as caller:
        yield caller


class Server:
    """`ringwright serve` on a store; it can be killed and started again on the same port."""

    def __init__(self, url: str, log: Path, before: str = "") -> None:
        self.url, self.log, self.port = url, log, free_port()
        self.program = f"{before}\n{SERVE}"
        self.process: subprocess.Popen[bytes] | None = None

    def start(self, patience_s: float = 40) -> None:
        """Start it and wait until it is ready."""
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-c", self.program, "serve", "--port", str(self.port)],
                env=environment(self.url),
                cwd=ROOT,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
            )
        until = time.monotonic() + patience_s
        while not self.ready():
            if self.process.poll() is not None or time.monotonic() > until:
                raise AssertionError(f"the server did not start: {self.log.read_text()}")
            time.sleep(0.03)

    def ready(self) -> bool:
        """True when it answers that it is ready."""
        try:
            with calling(self.port, "") as caller:
                return caller.ask("GET", "/readyz").status == 200
        except (OSError, http.client.HTTPException):
            return False

    def kill(self) -> None:
        """Kill it as a power cut would: it gets no word to say."""
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> float:
        """Ask it to stop, and answer how long that took [s]."""
        assert self.process is not None
        begun = time.monotonic()
        self.process.terminate()
        self.process.wait(timeout=30)
        return time.monotonic() - begun


@contextmanager
def serving(url: str, log: Path, before: str = "") -> Iterator[Server]:
    """A running server for the block; `before` is Python run in it first."""
    server = Server(url, log, before)
    try:
        server.start()
        yield server
    finally:
        if server.process is not None and server.process.poll() is None:
            server.kill()


def all_at_once(port: int, calls: Sequence[tuple[str, dict[str, Any]]]) -> list[Answer]:
    """Post every (token, booking) at the same moment, each from a thread of its own."""
    gate = threading.Barrier(len(calls))
    answers: list[Answer | None] = [None] * len(calls)

    def one(place: int) -> None:
        token, body = calls[place]
        with calling(port, token) as caller:
            caller.wire.connect()
            gate.wait(60)
            answers[place] = caller.book(body)

    in_threads([partial(one, place) for place in range(len(calls))])
    missing = [place for place, answer in enumerate(answers) if answer is None]
    assert missing == [], f"no answer to calls {missing}"
    return [answer for answer in answers if answer is not None]


def in_threads(works: Sequence[Callable[[], None]]) -> None:
    """Run all works at the same time; the first trouble of any is raised here."""
    troubles: list[BaseException] = []

    def run(work: Callable[[], None]) -> None:
        try:
            work()
        except BaseException as trouble:
            troubles.append(trouble)

    threads = [threading.Thread(target=run, args=(work,)) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if troubles:
        raise troubles[0]

"""The server is killed while clients book; nothing acknowledged is lost or stands twice."""

from __future__ import annotations

import http.client
import json
import random
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from ringwright.ledger.migrate import migrate
from tests.postgres import own_server
from tests.reliability import checker
from tests.reliability.server import (
    Caller,
    Server,
    calling,
    command,
    in_threads,
    serving,
    tokens,
)

pytestmark = [pytest.mark.reliability, pytest.mark.xdist_group("kills")]

KILLS = 10
CLIENTS = 8
SEED = 20_261_125
CHECKER = Path(checker.__file__)
LIFE: tuple[dict[str, Any], ...] = (
    {"act": "create", "product": "OAR"},
    {"act": "begin", "step": 10},
    {"act": "end", "step": 10, "outcome": "pass"},
    {"act": "begin", "step": 20},
    {"act": "end", "step": 20, "outcome": "pass"},
)


class Client:
    """Books parts of its own, one after another; retries with the same key until answered."""

    def __init__(self, number: int, port: int, token: str, over: threading.Event) -> None:
        self.number, self.port, self.token, self.over = number, port, token, over
        self.log: list[dict[str, Any]] = []
        self.retries = 0
        self.random = random.Random(SEED + number)

    def work(self) -> None:
        """Book until told that it is over; the part begun is still finished."""
        part = 0
        while not self.over.is_set():
            part += 1
            for place, act in enumerate(LIFE):
                serial = f"C{self.number}-{part}"
                self._book({**act, "serial": serial, "key": f"{serial}/{place}"})
            if self.random.random() < 0.3:
                self._book(dict(self.random.choice(self.log)["body"]))

    def _book(self, body: dict[str, Any]) -> None:
        while True:
            try:
                with calling(self.port, self.token) as caller:
                    answer = caller.book(body)
            except (OSError, http.client.HTTPException):
                self.retries += 1
                time.sleep(0.05)
                continue
            assert answer.status == 200, answer.body
            self.log.append({"key": body["key"], "body": body, "answer": answer.json})
            return


def kill_while_booking(
    server: Server, token: str, outage: Callable[[int], None]
) -> list[Client]:
    """Kill and restart under eight clients; `outage(n)` happens while the server is down."""
    over, dice = threading.Event(), random.Random(SEED)
    clients = [Client(number, server.port, token, over) for number in range(CLIENTS)]

    def killer() -> None:
        try:
            for number in range(KILLS):
                time.sleep(dice.uniform(0.2, 1.2))
                server.kill()
                outage(number)
                server.start()
            time.sleep(0.5)
        finally:
            over.set()

    in_threads([*(client.work for client in clients), killer])
    return clients


@contextmanager
def store(kind: str, folder: Path) -> Iterator[tuple[str, Callable[[int], None]]]:
    """A store on disk, and what happens to it at each kill of the server."""
    if kind == "sqlite":
        yield f"sqlite:///{folder / 'kills.sqlite'}", lambda _number: None
        return
    with own_server(listens=True) as database:

        def kill_now_and_then(number: int) -> None:
            if number % 3 == 2:
                database.kill()
                database.start()

        yield database.url(), kill_now_and_then


@pytest.mark.parametrize(
    "kind", ["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)]
)
def test_no_acknowledged_booking_is_lost_or_doubled_by_kills(kind: str, tmp_path: Path) -> None:
    with store(kind, tmp_path) as (url, outage):
        migrate(url)
        (token,) = tokens(url, ("supervisor", None))
        with serving(url, tmp_path / "server.log") as server:
            clients = kill_while_booking(server, token, outage)
            log = [line for client in clients for line in client.log]
            again = ask_again(server, token, log)

        path = tmp_path / "calls.jsonl"
        path.write_text("".join(f"{json.dumps(line)}\n" for line in [*log, *again]))
        verdict = subprocess.run(
            [sys.executable, str(CHECKER), url, str(path)], capture_output=True, text=True
        )
        audit, replay = command(url, "audit"), command(url, "replay", "--compare")

    lost_in_flight = sum(client.retries for client in clients)
    sys.stdout.write(f"{kind}: {len(log)} acknowledged, {lost_in_flight} tries unanswered\n")
    assert verdict.returncode == 0, verdict.stdout + verdict.stderr
    assert (audit.returncode, replay.returncode) == (0, 0), audit.stdout + replay.stdout
    # The kills must have hit bookings in flight, or the test has shown nothing.
    assert lost_in_flight >= KILLS
    assert len(log) >= KILLS * CLIENTS


def ask_again(
    server: Server, token: str, log: list[dict[str, Any]], most: int = 200
) -> list[dict[str, Any]]:
    """What some acknowledged keys are answered when they are sent once more."""
    picked = random.Random(SEED).sample(log, min(most, len(log)))
    with calling(server.port, token) as caller:
        return [_once_more(caller, line["body"]) for line in picked]


def _once_more(caller: Caller, body: dict[str, Any]) -> dict[str, Any]:
    answer = caller.book(body)
    assert answer.status == 200, answer.body
    return {"key": body["key"], "body": body, "answer": answer.json}


def test_the_checker_is_short_and_imports_nothing_of_the_product() -> None:
    source = CHECKER.read_text()

    assert len(source.splitlines()) <= 200
    assert "import ringwright" not in source
    assert "from ringwright" not in source


def test_the_checker_sees_a_lost_a_doubled_and_a_changed_booking(
    sqlite_url: str, tmp_path: Path
) -> None:
    (token,) = tokens(sqlite_url, ("supervisor", None))
    with (
        serving(sqlite_url, tmp_path / "server.log") as server,
        calling(server.port, token) as caller,
    ):
        log = [
            _once_more(caller, {**act, "serial": "P", "key": f"P/{place}"})
            for place, act in enumerate(LIFE)
        ]
    assert checker.check(sqlite_url, log) == []

    lost = {**log[0], "key": "P/9"}
    other = {**log[1], "answer": {**log[1]["answer"], "part": {**log[1]["answer"]["part"]}}}
    other["answer"]["part"]["place"] = "waiting"
    moved = json.loads(json.dumps(log[2]))
    moved["answer"]["event"]["site_seq"] += 1

    assert "is lost" in " ".join(checker.check(sqlite_url, [*log, lost]))
    assert "in two ways" in " ".join(checker.check(sqlite_url, [*log, other]))
    assert "was told" in " ".join(checker.check(sqlite_url, [*log[:2], moved, *log[3:]]))
    assert "nobody sent" in " ".join(checker.check(sqlite_url, log[:-1]))
    assert "part P" in " ".join(checker.check(sqlite_url, log[:-1]))

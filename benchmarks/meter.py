"""Asks pages of the application within this process, and notes what the store was asked."""

from __future__ import annotations

import asyncio
import gzip
import json
import sqlite3
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any, Self

from sqlalchemy import event

from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Ledger
from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.signing import open_to_readers

HOUSEKEEPING = ("PRAGMA", "BEGIN", "SHOW")
READS = ("SELECT", "WITH")
BROWSER = {
    "host": "ringwright.test",
    "accept": "text/html",
    "accept-encoding": "gzip",
    "accept-language": "en",
}
STEP = 10
"""SQLite tells of every so many steps of its machine."""


@dataclass(slots=True)
class Answer:
    """What came back, as it would go over the wire, and how long the server took."""

    status: int = 0
    headers: dict[str, str] = field(default_factory=dict)
    body: bytes = b""
    ms: float = 0.0
    cpu_ms: float = 0.0
    """Processor time of this process: what a busy neighbour cannot stretch much."""

    @property
    def content(self) -> bytes:
        """The body as a browser unpacks it."""
        packed = self.headers.get("content-encoding") == "gzip"
        return gzip.decompress(self.body) if packed else self.body

    @property
    def wire(self) -> int:
        """Bytes of the answer with its headers, as HTTP/1.1 writes them."""
        head = sum(len(name) + len(value) + 4 for name, value in self.headers.items())
        return len(self.body) + head + len("HTTP/1.1 200 OK\r\n\r\n")


@dataclass(frozen=True, slots=True)
class Asked:
    """One statement and its parameters."""

    statement: str
    parameters: Any


@dataclass(frozen=True, slots=True)
class Work:
    """What some statements cost the store, asked once more by themselves."""

    rows: int
    """Rows that the cursors returned."""
    effort: int
    """SQLite: steps of its machine; PostgreSQL: rows its scans looked at."""
    ms: float
    """Time of the statements alone, through the driver, their rows fetched."""
    server_ms: float = 0.0
    """As much of it as another process spends: that of PostgreSQL, nothing of SQLite's."""


class Meter:
    """The application on one store, asked as a browser on a screen without a person would."""

    def __init__(self, ledger: Ledger, url: str) -> None:
        self.ledger = ledger
        settings = Settings(
            database_url=url, hosts=("ringwright.test",), exports_a_minute=1_000_000
        )
        self.app = open_to_readers(create_app(settings, ledger))
        with ledger.read() as read:
            site_id = read.site.id
        self._token = make_token(ledger.store, site_id, "manager", None, ledger.clock.now_us())
        self._loop = asyncio.Runner()
        self._asked: list[Asked] = []
        event.listen(ledger.store.engine, "before_cursor_execute", self._note)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        trouble: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        event.remove(self.ledger.store.engine, "before_cursor_execute", self._note)
        self._loop.close()
        self.ledger.store.close()

    def _note(self, _c: Any, _cursor: Any, statement: str, parameters: Any, *_: Any) -> None:
        if not statement.startswith(HOUSEKEEPING):
            self._asked.append(Asked(statement, parameters))

    def get(self, address: str, **more: str) -> Answer:
        """One page; the time runs from the request's arrival to the last byte handed over."""
        headers = {**BROWSER, **{name.replace("_", "-"): text for name, text in more.items()}}
        if address.startswith("/api/"):
            headers["authorization"] = f"Bearer {self._token}"
        return self._loop.run(self._get(address, headers))

    async def _get(self, address: str, headers: dict[str, str]) -> Answer:
        path, _, query = address.partition("?")
        answer = Answer()
        scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": "GET",
            "scheme": "http",
            "path": path,
            "raw_path": path.encode(),
            "root_path": "",
            "query_string": query.encode(),
            "headers": [(name.encode(), text.encode()) for name, text in headers.items()],
            "client": ("127.0.0.1", 1),
            "server": ("ringwright.test", 80),
        }

        sent = False

        async def receive() -> dict[str, Any]:
            nonlocal sent
            if sent:  # a file's answer listens for the browser to go away: it stays
                await asyncio.Event().wait()
            sent = True
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Any) -> None:
            if message["type"] == "http.response.start":
                answer.status = message["status"]
                answer.headers = {k.decode(): v.decode() for k, v in message["headers"]}
            else:
                answer.body += message.get("body", b"")

        begun, cpu = time.perf_counter(), time.process_time()
        await self.app(scope, receive, send)
        answer.cpu_ms = (time.process_time() - cpu) * 1000
        answer.ms = (time.perf_counter() - begun) * 1000
        return answer

    def forget(self) -> None:
        """Let no answer be remembered: the next one is worked out from the store."""
        for name, module in list(sys.modules.items()):
            if name.startswith("ringwright."):
                for value in vars(module).values():
                    if isinstance(value, Remembered):
                        value.forget()

    def statements(self, address: str) -> list[Asked]:
        """What one answer asks the store."""
        self.forget()
        self._asked.clear()
        self.get(address)
        return list(self._asked)

    def work(self, asked: list[Asked]) -> Work:
        """Ask the same statements by themselves, but not those that write (who took a file)."""
        asked = [one for one in asked if one.statement.startswith(READS)]
        rows, effort, taken = 0, 0, 0.0
        with self.ledger.store.read() as connection:
            driver: Any = connection.connection.driver_connection
            for one in asked:
                found, ms = _ask(driver, one)
                rows, taken = rows + found, taken + ms
                effort += _effort(driver, one)
        server_ms = 0.0 if isinstance(driver, sqlite3.Connection) else taken
        return Work(rows, effort, taken, server_ms)


def _ask(driver: Any, one: Asked) -> tuple[int, float]:
    """(rows, milliseconds) of a statement: the quickest of three tries."""
    rows, quickest = 0, float("inf")
    for _ in range(3):
        cursor = driver.cursor()
        begun = time.perf_counter()
        cursor.execute(one.statement, one.parameters)
        rows = len(cursor.fetchall())
        quickest = min(quickest, time.perf_counter() - begun)
    return rows, quickest * 1000


def _effort(driver: Any, one: Asked) -> int:
    if isinstance(driver, sqlite3.Connection):
        with _steps(driver) as counted:
            driver.execute(one.statement, one.parameters).fetchall()
        return counted[0] * STEP
    cursor = driver.cursor()
    cursor.execute(
        f"EXPLAIN (ANALYZE, FORMAT JSON, TIMING OFF) {one.statement}", one.parameters
    )
    (plan,) = cursor.fetchone()
    return _scanned((plan if isinstance(plan, list) else json.loads(plan))[0]["Plan"])


@contextmanager
def _steps(driver: sqlite3.Connection) -> Iterator[list[int]]:
    counted = [0]

    def count() -> int:
        counted[0] += 1
        return 0

    driver.set_progress_handler(count, STEP)
    try:
        yield counted
    finally:
        driver.set_progress_handler(None, 0)


def _scanned(node: dict[str, Any]) -> int:
    """Rows that the scans below a node of a plan looked at, those they threw away included."""
    own = 0
    if "Relation Name" in node:
        thrown = ("Rows Removed by Filter", "Rows Removed by Index Recheck")
        seen = node["Actual Rows"] + sum(node.get(name, 0) for name in thrown)
        own = int(seen * node["Actual Loops"])
    return own + sum(_scanned(below) for below in node.get("Plans", ()))

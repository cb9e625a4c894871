"""What is answered is true: no success without a commit, readable errors, recovery."""

from __future__ import annotations

import http.client
import resource
import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, event, func, inspect, select, text
from sqlalchemy.exc import OperationalError
from starlette.testclient import TestClient

from ringwright.assembly import open_ledger
from ringwright.db import Store
from ringwright.ledger.service import Ledger
from ringwright.people.service import make_token
from ringwright.people.visitor import DEVICE
from ringwright.schema import METADATA
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.floor import CODE, furnish
from tests.make.signing import let_wall_in, open_to_readers
from tests.postgres import own_server
from tests.reliability.checker import ask
from tests.reliability.server import Answer, Server, calling, serving, tokens

pytestmark = [pytest.mark.reliability, pytest.mark.xdist_group("honest")]

CREATE = {"act": "create", "serial": "S", "product": "OAR", "key": "one"}
STOP_WITHIN_S = 6.0
SHORT = "import ringwright.db as db; db.PRAGMAS = (*db.PRAGMAS, 'PRAGMA busy_timeout=300')"


@pytest.fixture
def ledger(store_url: str) -> Iterator[Ledger]:
    """A furnished record."""
    record = furnish(store_url)
    yield record
    record.store.close()


@pytest.fixture
def client(store_url: str, ledger: Ledger) -> TestClient:
    """The application with a supervisor's token; a fault inside comes out as its answer."""
    with ledger.read(CODE) as read:
        token = make_token(ledger.store, read.site.id, "supervisor", None, 0)
    app = open_to_readers(create_app(Settings(database_url=store_url), ledger))
    return TestClient(
        app, raise_server_exceptions=False, headers={"Authorization": f"Bearer {token}"}
    )


def contents(store: Store) -> dict[str, int]:
    """How many rows each table holds."""
    with store.read() as connection:
        return {
            table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in METADATA.sorted_tables
        }


def is_readable_error(status: int, body: Any) -> bool:
    """An error with a sentence, without the program's insides."""
    plain = not any(inside in str(body) for inside in ("Traceback", "SELECT", "INSERT", ".py"))
    return status >= 400 and set(body) == {"error", "detail"} and all(body.values()) and plain


@contextmanager
def commits_of_bookings_failing(store: Store) -> Iterator[None]:
    """Within the block the database refuses to commit what holds a new event."""
    dialect, wrote = store.engine.dialect, threading.local()
    commit = dialect.do_commit

    def note(_c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        wrote.event = getattr(wrote, "event", False) or "INTO event" in statement

    def fail(connection: Any) -> None:
        if getattr(wrote, "event", False):
            wrote.event = False
            raise OperationalError("COMMIT", {}, Exception("the disk is gone"))
        commit(connection)

    event.listen(store.engine, "before_cursor_execute", note)
    vars(dialect)["do_commit"] = fail
    try:
        yield
    finally:
        del vars(dialect)["do_commit"]
        event.remove(store.engine, "before_cursor_execute", note)


def test_a_commit_that_fails_is_never_answered_as_success(
    client: TestClient, ledger: Ledger
) -> None:
    before = contents(ledger.store)

    with commits_of_bookings_failing(ledger.store):
        answer = client.post("/api/bookings", json=CREATE)
        still = client.get("/api/parts/S").status_code

    assert is_readable_error(answer.status_code, answer.json()), answer.text
    assert still == 404
    assert contents(ledger.store) == before
    again = client.post("/api/bookings", json=CREATE)
    assert again.status_code == 200
    assert contents(ledger.store)["event"] == before["event"] + 1


def test_what_is_answered_is_in_the_database_at_that_moment(
    client: TestClient, store_url: str
) -> None:
    for number in range(20):
        body = {**CREATE, "serial": f"S{number}", "key": f"k{number}"}

        told = client.post("/api/bookings", json=body).json()["event"]

        stored = ask(store_url, f"SELECT site_seq FROM event WHERE key = 'k{number}'")
        assert stored == [(told["site_seq"],)]


@contextmanager
def failing_at(store: Store, number: int) -> Iterator[list[str]]:
    """The store's `number`-th statement of the block fails; answers the statements run."""
    run: list[str] = []

    def count(
        _c: Connection, _cursor: Any, statement: str, _p: Any, _context: Any, _many: bool
    ) -> None:
        run.append(statement)
        if len(run) == number:
            raise OperationalError(statement, {}, Exception("planted fault"))

    event.listen(store.engine, "before_cursor_execute", count)
    try:
        yield run
    finally:
        event.remove(store.engine, "before_cursor_execute", count)


def test_a_fault_at_any_statement_of_a_booking_leaves_no_trace(
    client: TestClient, ledger: Ledger
) -> None:
    client.post("/api/bookings", json=CREATE)
    begin = {"act": "begin", "serial": "S", "step": 10, "key": "two"}
    before = contents(ledger.store)

    for number in range(1, 100):
        with failing_at(ledger.store, number) as run:
            answer = client.post("/api/bookings", json=begin)
        if len(run) < number:
            break
        assert is_readable_error(answer.status_code, answer.json()), (run[-1], answer.text)
        assert contents(ledger.store) == before, run[-1]

    assert answer.status_code == 200
    assert number > 8  # the booking has that many statements, and each failed once
    assert contents(ledger.store)["event"] == before["event"] + 1


def test_a_refusal_is_told_though_it_cannot_be_kept_in_the_audit(
    client: TestClient, ledger: Ledger
) -> None:
    def fail(_c: Any, _cursor: Any, statement: str, _p: Any, _context: Any, _m: bool) -> None:
        if "INTO refusal" in statement:
            raise OperationalError(statement, {}, Exception("planted fault"))

    event.listen(ledger.store.engine, "before_cursor_execute", fail)
    answer = client.post("/api/bookings", json={**CREATE, "product": "NONE"})
    event.remove(ledger.store.engine, "before_cursor_execute", fail)

    assert answer.status_code == 422
    assert "NONE" in answer.json()["detail"]


def booked(server: Server, token: str, body: dict[str, Any]) -> Answer:
    with calling(server.port, token) as caller:
        return caller.book(body)


def events(url: str) -> int:
    return int(ask(url, "SELECT count(*) FROM event")[0][0])


def test_a_locked_store_is_told_as_an_error_and_serves_again_by_itself(
    sqlite_url: str, tmp_path: Path
) -> None:
    (token,) = tokens(sqlite_url, ("supervisor", None))
    before = events(sqlite_url)
    with serving(sqlite_url, tmp_path / "log", before=SHORT) as server:
        with closing(sqlite3.connect(_path(sqlite_url), isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            answer = booked(server, token, CREATE)
            other.execute("ROLLBACK")

        assert is_readable_error(answer.status, answer.json), answer.body
        assert answer.status >= 500
        assert events(sqlite_url) == before
        assert booked(server, token, CREATE).status == 200
    assert events(sqlite_url) == before + 1


def _path(url: str) -> str:
    return url.removeprefix("sqlite:///")


def test_a_full_disk_is_told_as_an_error_and_serves_again_by_itself(
    sqlite_url: str, tmp_path: Path
) -> None:
    """The server may write no file beyond 4 kB: the system refuses, as a full disk does."""
    (token,) = tokens(sqlite_url, ("supervisor", None))
    with serving(sqlite_url, tmp_path / "log") as server:
        assert booked(server, token, {**CREATE, "serial": "T", "key": "zero"}).status == 200
        before = events(sqlite_url)
        assert server.process is not None
        pid = server.process.pid
        _, hard = resource.prlimit(pid, resource.RLIMIT_FSIZE)
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (4096, hard))
        answers = [booked(server, token, CREATE) for _ in range(3)]
        during = events(sqlite_url)
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (hard, hard))

        for answer in answers:
            assert is_readable_error(answer.status, answer.json), answer.body
        assert during == before
        assert booked(server, token, CREATE).status == 200
    assert events(sqlite_url) == before + 1
    assert ask(sqlite_url, "PRAGMA integrity_check") == [("ok",)]


def test_a_store_file_that_may_not_be_written_is_told_as_an_error(
    sqlite_url: str, tmp_path: Path
) -> None:
    """`query_only` makes each new connection refuse writes, as a read-only file would."""
    (token,) = tokens(sqlite_url, ("supervisor", None))
    before = events(sqlite_url)
    switch = tmp_path / "read-only"
    switch.touch()
    program = (
        "import pathlib, sqlalchemy as sa, ringwright.db as db\n"
        "make = db.make_engine\n"
        "def made(url):\n"
        "    engine = make(url)\n"
        "    @sa.event.listens_for(engine, 'checkout')\n"
        "    def on(connection, *_):\n"
        f"        shut = int(pathlib.Path({str(switch)!r}).exists())\n"
        "        connection.execute(f'PRAGMA query_only={shut}')\n"
        "    return engine\n"
        "db.make_engine = made\n"
    )
    with serving(sqlite_url, tmp_path / "log", before=program) as server:
        answer = booked(server, token, CREATE)
        assert is_readable_error(answer.status, answer.json), answer.body
        assert events(sqlite_url) == before

        switch.unlink()
        assert booked(server, token, CREATE).status == 200


@pytest.mark.postgres
def test_a_database_server_that_is_down_is_told_as_an_error_and_serves_again(
    tmp_path: Path,
) -> None:
    from ringwright.ledger.migrate import migrate

    with own_server(listens=True) as database:
        url = database.url()
        migrate(url)
        (token,) = tokens(url, ("supervisor", None))
        with serving(url, tmp_path / "log") as server:
            before = events(url)
            database.stop()
            down = booked(server, token, CREATE)
            with calling(server.port, token) as caller:
                ready = caller.ask("GET", "/readyz").status
                alive = caller.ask("GET", "/healthz").status
            database.start()

            assert is_readable_error(down.status, down.json), down.body
            assert (ready, alive) == (503, 200)
            assert events(url) == before
            assert booked(server, token, CREATE).status == 200
        assert events(url) == before + 1


@pytest.mark.postgres
def test_a_site_locked_by_somebody_else_waits_and_is_booked_once(
    postgres_url: str, tmp_path: Path
) -> None:
    (token,) = tokens(postgres_url, ("supervisor", None))
    store = Store(postgres_url)
    answers: list[Answer] = []
    with serving(postgres_url, tmp_path / "log") as server:
        asking = threading.Thread(target=lambda: answers.append(booked(server, token, CREATE)))
        with store.engine.connect() as other, other.begin():
            other.execute(text("SELECT pg_advisory_xact_lock(1)"))
            asking.start()
            time.sleep(0.7)
            told_while_locked = list(answers)
        asking.join(30)
    store.close()

    assert told_while_locked == []
    assert [answer.status for answer in answers] == [200]


def test_the_server_stops_in_time_though_a_page_listens(
    sqlite_url: str, tmp_path: Path
) -> None:
    tokens(sqlite_url, ("supervisor", None))
    with closing(Store(sqlite_url)) as store:
        secret = let_wall_in(open_ledger(store))
    with serving(sqlite_url, tmp_path / "log") as server:
        page = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
        page.request("GET", "/live", headers={"Cookie": f"{DEVICE}={secret}"})
        stream = page.getresponse()
        first = stream.fp.readline()

        took_s = server.stop()

        stream.close()
        page.close()
    assert first.startswith(b"event: ledger") or first.strip().isalnum()
    assert took_s < STOP_WITHIN_S


def test_the_tables_counted_here_are_all_the_tables_there_are(ledger: Ledger) -> None:
    named = set(inspect(ledger.store.engine).get_table_names()) - {"alembic_version"}

    assert named == set(contents(ledger.store))

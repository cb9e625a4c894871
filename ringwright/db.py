"""The store: engine, pragmas, and the two kinds of transaction.

A write transaction locks first (SQLite: BEGIN IMMEDIATE; PostgreSQL: an advisory lock of the
site under READ COMMITTED), a read transaction is one snapshot and cannot write.
"""

from __future__ import annotations

import os
import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, cast

from sqlalchemy import (
    BigInteger,
    Connection,
    Engine,
    Integer,
    MetaData,
    Table,
    create_engine,
    event,
    text,
)
from sqlalchemy.engine import make_url
from sqlalchemy.orm import DeclarativeBase

from ringwright.core.errors import RingwrightError

FOREVER_US = 2**62
"""The end of what has not ended: later than any instant."""

BigId = BigInteger().with_variant(Integer(), "sqlite")


class Base(DeclarativeBase):
    """All tables; constraint names are fixed so that migrations can name them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


def table_of(model: type[Base]) -> Table:
    """The table behind a model."""
    return cast(Table, model.__table__)


class StoreUnfit(RingwrightError):
    """The database is set up so that an acknowledged booking could be lost."""

    code = "store-unfit"


PRAGMAS = (
    "PRAGMA journal_mode=WAL",
    # An acknowledged booking must outlive a power cut; NORMAL in WAL mode does not promise it.
    "PRAGMA synchronous=FULL",
    "PRAGMA foreign_keys=ON",
    "PRAGMA busy_timeout=30000",
    # Without this, INSERT OR REPLACE slips past the triggers that refuse change.
    "PRAGMA recursive_triggers=ON",
    "PRAGMA cache_size=-65536",
)
# No ANALYZE, no PRAGMA optimize: without statistics SQLite plans alike in every store, so what
# benchmarks/pages.py has seen holds in the shop. Its guesses then suit small tables, so queries
# put what tempts it to the wrong index out of reach (`Visit.product.concat("")`).
PLANNING = "-c random_page_cost=1.1"
"""PostgreSQL reckons with a turning disk, and would rather read a whole table than enter it by
an index some hundred times; a shop's record lies in memory or on flash."""


def _prepare_sqlite(engine: Engine) -> None:
    @event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _record: Any) -> None:
        # The driver's own transaction handling is off: it would not open read transactions.
        connection.isolation_level = None
        for pragma in PRAGMAS:
            connection.execute(pragma)

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("ringwright_write")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def make_engine(url: str) -> Engine:
    """An engine for a store URL; a SQLite file is made for its owner alone."""
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite":
        if parsed.database and parsed.database != ":memory:":
            _make_private(Path(parsed.database))
        engine = create_engine(
            parsed, pool_size=20, max_overflow=60, pool_timeout=60, hide_parameters=True
        )
        _prepare_sqlite(engine)
        return engine
    return create_engine(
        parsed,
        pool_size=20,
        max_overflow=60,
        pool_timeout=60,
        pool_pre_ping=True,
        # A fault is logged without what somebody typed.
        hide_parameters=True,
        connect_args={} if "options" in parsed.query else {"options": PLANNING},
    )


def _make_private(path: Path) -> None:
    # The write-ahead log beside it gets the rights of the file.
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not path.exists():
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))


class Gate:
    """Lets one writer in at a time, first come first served."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._waiting: deque[threading.Event] = deque()
        self._busy = False

    @contextmanager
    def hold(self) -> Iterator[None]:
        """Wait for one's turn, keep it for the block, hand it to the next in line."""
        turn: threading.Event | None = None
        with self._guard:
            if self._busy:
                turn = threading.Event()
                self._waiting.append(turn)
            self._busy = True
        if turn is not None:
            turn.wait()
        try:
            yield
        finally:
            with self._guard:
                if self._waiting:
                    self._waiting.popleft().set()
                else:
                    self._busy = False


class Store:
    """One database and the doors to it."""

    def __init__(self, url: str) -> None:
        self.engine = make_engine(url)
        self.is_sqlite = self.engine.dialect.name == "sqlite"
        self._gates: dict[int, Gate] = {}
        self._gates_guard = threading.Lock()

    def _gate(self, site_id: int) -> Gate:
        # SQLite has one writer in all, so there all sites share one gate.
        key = 0 if self.is_sqlite else site_id
        with self._gates_guard:
            return self._gates.setdefault(key, Gate())

    @contextmanager
    def write(self, site_id: int) -> Iterator[Connection]:
        """The only writer of the site for the block; commits at its end or leaves no trace."""
        with self._gate(site_id).hold(), self.engine.connect() as connection:
            if self.is_sqlite:
                connection = connection.execution_options(ringwright_write=True)
            with connection.begin():
                if not self.is_sqlite:
                    # As SQLite's busy_timeout: nobody waits at a bench without an answer.
                    connection.execute(text("SET LOCAL lock_timeout = '30s'"))
                    connection.execute(
                        text("SELECT pg_advisory_xact_lock(:site)"), {"site": site_id}
                    )
                yield connection

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """One snapshot for the block, which cannot write."""
        with self.engine.connect() as connection:
            if not self.is_sqlite:
                connection = connection.execution_options(
                    isolation_level="REPEATABLE READ", postgresql_readonly=True
                )
                with connection.begin():
                    yield connection
                return
            with connection.begin():
                connection.exec_driver_sql("PRAGMA query_only=ON")
                try:
                    yield connection
                finally:
                    connection.exec_driver_sql("PRAGMA query_only=OFF")

    def check_durable(self) -> None:
        """Raise StoreUnfit where the settings could lose an acknowledged booking."""
        with self.engine.connect() as connection:
            if self.is_sqlite:
                level = connection.exec_driver_sql("PRAGMA synchronous").scalar()
                if level != 2:
                    raise StoreUnfit("the store does not sync each booking (synchronous)")
                return
            for setting in ("fsync", "synchronous_commit"):
                if connection.exec_driver_sql(f"SHOW {setting}").scalar() == "off":
                    raise StoreUnfit(f"PostgreSQL runs with {setting}=off; turn it on first")

    def close(self) -> None:
        """Give all connections back."""
        self.engine.dispose()

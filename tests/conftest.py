"""Stores for tests: each test gets an empty, migrated one of its own, on both databases."""

from __future__ import annotations

import itertools
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from hypothesis import settings

from ringwright.ledger.migrate import migrate
from ringwright.web import hosts
from tests.make.floor import Floor, open_floor
from tests.postgres import PostgresServer, own_server, server_url

_NUMBERS = itertools.count(1)

# A busy machine is no fault of the code: how long an example took is never what is tested.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Ask a browser test that failed once more, and say so (decision 41)."""
    for item in items:
        if item.get_closest_marker("browser") and not item.get_closest_marker("planted"):
            item.add_marker(pytest.mark.flaky(reruns=1))


@pytest.fixture(scope="session", autouse=True)
def _at_home() -> Iterator[None]:
    """The test client asks by the name `testserver`, which no installation answers to."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(hosts, "OWN_NAMES", (*hosts.OWN_NAMES, "testserver"))
        yield


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[PostgresServer | None]:
    """One server for this test process; None where TEST_DATABASE_URL names another."""
    if os.environ.get("TEST_DATABASE_URL"):
        yield None
        return
    with own_server() as server:
        yield server


@pytest.fixture(scope="session")
def _sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "template.sqlite"
    migrate(f"sqlite:///{path}")
    return path


@pytest.fixture(scope="session")
def _postgres_template(postgres_server: PostgresServer | None) -> Iterator[str]:
    name = f"rw_template_{os.getpid()}"
    _administer(postgres_server, f"CREATE DATABASE {name} TEMPLATE template0")
    migrate(server_url(postgres_server, name))
    yield name
    _administer(postgres_server, f"DROP DATABASE {name} WITH (FORCE)")


def _administer(server: PostgresServer | None, statement: str) -> None:
    plain = server_url(server, "postgres").replace("+psycopg", "", 1)
    with psycopg.connect(plain, autocommit=True) as connection:
        connection.execute(statement.encode())


@pytest.fixture
def new_sqlite_url(_sqlite_template: Path, tmp_path: Path) -> Callable[[], str]:
    """Makes empty, migrated SQLite stores, as many as a test needs."""

    def make() -> str:
        path = tmp_path / f"store-{next(_NUMBERS)}.sqlite"
        shutil.copy(_sqlite_template, path)
        return f"sqlite:///{path}"

    return make


@pytest.fixture
def new_postgres_url(
    _postgres_template: str, postgres_server: PostgresServer | None
) -> Iterator[Callable[[], str]]:
    """Makes empty, migrated PostgreSQL stores, dropped after the test."""
    made: list[str] = []

    def make() -> str:
        name = f"rw_{os.getpid()}_{next(_NUMBERS)}"
        _administer(postgres_server, f"CREATE DATABASE {name} TEMPLATE {_postgres_template}")
        made.append(name)
        return server_url(postgres_server, name)

    yield make
    for name in made:
        _administer(postgres_server, f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@pytest.fixture
def sqlite_url(new_sqlite_url: Callable[[], str]) -> str:
    """An empty, migrated SQLite store."""
    return new_sqlite_url()


@pytest.fixture
def postgres_url(new_postgres_url: Callable[[], str]) -> str:
    """An empty, migrated PostgreSQL store. Mark the test `postgres`."""
    return new_postgres_url()


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def new_store_url(request: pytest.FixtureRequest) -> Callable[[], str]:
    """Makes empty, migrated stores; the test runs once on each database."""
    make: Callable[[], str] = request.getfixturevalue(f"new_{request.param}_url")
    return make


@pytest.fixture
def store_url(new_store_url: Callable[[], str]) -> str:
    """An empty, migrated store; the test runs once on each database."""
    return new_store_url()


@pytest.fixture
def floor(store_url: str) -> Iterator[Floor]:
    """A furnished floor; the test runs once on each database."""
    opened = open_floor(store_url)
    yield opened
    opened.ledger.store.close()


@pytest.fixture
def sqlite_floor(sqlite_url: str) -> Iterator[Floor]:
    """A furnished floor on SQLite alone, for what does not differ between stores."""
    opened = open_floor(sqlite_url)
    yield opened
    opened.ledger.store.close()

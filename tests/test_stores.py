"""The stores that the other tests stand on: empty, at the newest schema, apart, durable."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable

import pytest
from sqlalchemy import create_engine, func, inspect, select, text
from sqlalchemy.pool import NullPool

from ringwright.db import Store
from ringwright.ledger.migrate import head
from ringwright.ledger.tables import Event
from tests.postgres import own_server


def test_a_store_is_at_the_newest_schema_and_holds_no_event(store_url: str) -> None:
    store = Store(store_url)
    with store.read() as connection:
        version = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        events = connection.execute(select(func.count()).select_from(Event)).scalar()
    store.close()

    assert (version, events) == (head(), 0)


def test_two_stores_of_one_test_do_not_see_each_other(new_store_url: Callable[[], str]) -> None:
    first, second = (create_engine(new_store_url(), poolclass=NullPool) for _ in range(2))

    with first.begin() as connection:
        connection.execute(text("CREATE TABLE only_here (a INTEGER)"))

    assert inspect(first).has_table("only_here")
    assert not inspect(second).has_table("only_here")


def test_the_store_under_test_is_as_durable_as_the_product_demands(store_url: str) -> None:
    store = Store(store_url)

    store.check_durable()

    store.close()


def test_a_store_at_the_newest_schema_does_not_even_load_alembic(store_url: str) -> None:
    ask = "import sys; from ringwright.ledger.migrate import migrate; migrate(sys.argv[1]); "
    ask += "sys.exit('alembic' in sys.modules)"

    done = subprocess.run([sys.executable, "-c", ask, store_url])

    assert done.returncode == 0


@pytest.mark.postgres
@pytest.mark.reliability
def test_a_killed_server_comes_back_with_what_was_committed() -> None:
    with own_server(listens=True) as server:
        engine = create_engine(server.url(), poolclass=NullPool)
        with engine.begin() as connection:
            connection.execute(text("CREATE TABLE kept AS SELECT 1 AS a"))

        server.kill()
        server.start()

        with engine.connect() as connection:
            assert connection.execute(text("SELECT a FROM kept")).scalar() == 1

"""A migration goes up, down and up again, and leaves the same tables and the same guards."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import DBAPIError

from ringwright.db import Store
from ringwright.ledger.migrate import MIGRATIONS, head, migrate
from ringwright.schema import METADATA
from tests.make.floor import open_floor

TRIGGERS = {
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger' ORDER BY name",
    "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal ORDER BY tgname",
}


@contextmanager
def alembic(store: Store) -> Iterator[tuple[Config, Connection]]:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with store.write(0) as connection:
        config.attributes["connection"] = connection
        yield config, connection


def triggers(store: Store) -> list[str]:
    with store.read() as connection:
        query = TRIGGERS[store.engine.dialect.name]
        return list(connection.execute(text(query)).scalars())


def differences(store: Store) -> list[object]:
    with store.read() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        return list(compare_metadata(context, METADATA))


def test_down_to_nothing_and_up_again_is_the_same_schema(store_url: str) -> None:
    store = Store(store_url)
    before = triggers(store)
    assert before

    with alembic(store) as (config, _):
        command.downgrade(config, "base")
    assert set(inspect(store.engine).get_table_names()) <= {"alembic_version"}
    with alembic(store) as (config, _):
        command.upgrade(config, "head")

    assert differences(store) == []
    assert triggers(store) == before
    store.close()


def test_a_record_can_be_kept_after_the_round_trip_and_is_guarded(store_url: str) -> None:
    store = Store(store_url)
    with alembic(store) as (config, _):
        command.downgrade(config, "base")
    store.close()
    migrate(store_url)

    floor = open_floor(store_url)
    floor.book("create", "A")
    with (
        pytest.raises(DBAPIError, match="the record refuses change"),
        floor.ledger.store.write(0) as connection,
    ):
        connection.execute(text("DELETE FROM event"))
    floor.ledger.store.close()


def test_migrating_twice_changes_nothing(store_url: str) -> None:
    floor = open_floor(store_url)
    floor.book("create", "A")
    before = floor.events()

    migrate(store_url)

    assert floor.events() == before
    with floor.ledger.store.read() as connection:
        assert MigrationContext.configure(connection).get_current_revision() == head()
    floor.ledger.store.close()
